# The same twelve rules; each finding is one text: rule, level, message.
package fit

p := input.processor
b := input.board
c := input.chassis
k := input.cooler
s := input.supply

draw := sum([n | some l in input.drawing; n := l.count * l.part.draw_w])

findings contains sprintf("headroom stop %d W asked of %s, rated %d W", [draw, s.name, s.rated_w]) if draw > s.rated_w

findings contains sprintf("headroom caution %d W leaves little in hand on %s, rated %d W", [draw, s.name, s.rated_w]) if {
	draw <= s.rated_w
	draw > s.rated_w * 0.8
}

findings contains sprintf("socket stop %s needs %s and %s has %s", [p.name, p.socket, b.name, b.socket]) if p.socket != b.socket

findings contains sprintf("generation stop %s is %s and %s takes %s", [l.part.name, l.part.memory, b.name, b.memory]) if {
	some l in input.memory
	l.part.memory != b.memory
}

findings contains sprintf("board_size stop %s is %d mm deep and %s takes %d mm", [b.name, b.depth_mm, c.name, c.depth_mm]) if b.depth_mm > c.depth_mm

default room_less := 0

room_less := 55 if {
	k.radiator_mm > 0
	input.mount == "front"
}

findings contains sprintf("card_length stop %s is %d mm long and %s leaves %d mm", [l.part.name, l.part.length_mm, c.name, room]) if {
	room := c.card_mm - room_less
	some l in input.graphics
	l.part.length_mm > room
}

findings contains sprintf("cooler_height stop %s is %d mm high and %s takes %d mm", [k.name, k.height_mm, c.name, c.cooler_mm]) if {
	k.radiator_mm == 0
	k.height_mm > c.cooler_mm
}

findings contains sprintf("cooler_rating stop %s has no kit for %s", [k.name, p.socket]) if not p.socket in k.sockets

findings contains sprintf("cooler_rating stop %s gives %d W and %s takes %d W", [p.name, p.draw_w, k.name, k.rated_w]) if k.rated_w < p.draw_w

findings contains sprintf("radiator stop %s asks for %d mm at the %s of %s", [k.name, k.radiator_mm, input.mount, c.name]) if {
	k.radiator_mm > 0
	k.radiator_mm > c.radiators[input.mount]
}

findings contains sprintf("leads stop %d plugs needed and %s has %d", [need, s.name, have]) if {
	need := sum([n | some l in input.graphics; n := l.count * l.part.power_in.pcie_8])
	have := sum([n | some lead in s.leads; lead.connector == "pcie_8"; n := lead.plugs * lead.count])
	need > have
}

findings contains sprintf("drive_sockets stop %d flat drives and %s has %d sockets", [drives, b.name, b.m2]) if {
	drives := sum([l.count | some l in input.storage; l.part.bus == "m2"])
	drives > b.m2
}

findings contains sprintf("drive_sockets stop %d cabled drives and %s has %d sockets", [drives, b.name, b.sata]) if {
	drives := sum([l.count | some l in input.storage; l.part.bus != "m2"])
	drives > b.sata
}

findings contains sprintf("net_flow caution more air goes out of %s than comes in", [c.name]) if {
	into := sum([n | some l in input.fan; l.flow == "in"; n := l.count * l.part.moves_m3h])
	out := sum([n | some l in input.fan; l.flow != "in"; n := l.count * l.part.moves_m3h])
	into * 0.7 < out
}

findings contains sprintf("price caution it comes to %d.%s EUR and was to cost 4500.00 EUR", [floor(total / 100), substring(sprintf("%d", [100 + (total % 100)]), 1, 2)]) if {
	total := sum([n | some l in input.lines; n := l.count * l.part.price_cents])
	total > input.budget_cents
}
