//! Commands of the prompt that change a build, out of a few numbers: many of them are wrong.

use dryfit::inside::kit::Kit;

/// One of nine sorts: 0 to 3 swap a line for the part, 4 swaps one of several, then add, drop, set
/// of a line, set of the build.
pub(crate) fn change(kit: &Kit, sort: u8, part: usize, number: usize, word: u8) -> String {
    let catalogue = kit.catalogue();
    let part = catalogue.part_at(part % catalogue.parts().len()).map_or("", |part| &*part.id);
    let kind = part.split('/').next().unwrap_or("fan");
    let pick = |words: &[&str]| words[usize::from(word) % words.len()].to_owned();
    match sort {
        0..=3 => format!("swap {kind} {part}"),
        4 => format!("swap {kind} {} {part}", word % 3 + 1),
        5 => format!(
            "add {part} x{} {}",
            word % 4,
            pick(&["", "mount front flow in", "mount top flow out", "owned", "mount nowhere"])
        ),
        6 => format!("drop #{number}"),
        7 => format!(
            "set #{number} {}",
            pick(&[
                "count 3",
                "count 0",
                "count 99",
                "owned yes",
                "owned no",
                "mount rear",
                "flow out",
                "mount none",
                "note \"a # b\"",
                "included no"
            ])
        ),
        _ => format!(
            "set {}",
            pick(&[
                "budget 900",
                "budget none",
                "room_c 35",
                "hours_per_day 25",
                "purpose office",
                "title \"x \\\" y\"",
                "priced_on 2026-10-01",
                "electricity 0.5",
                "mains_v 115",
                "altitude_m 1200"
            ])
        ),
    }
}
