use super::{Message, Said};
use crate::audit::verdict::Hole;

fn told(template: &str) -> String {
    let holes = vec![("a".into(), Hole::Text("A".into())), ("b".into(), Hole::Text("B".into()))];
    let message = Message::new(template, holes);
    let words = |said| match said {
        Said::Text(text) => text.to_owned(),
        Said::Hole(Hole::Text(text), unit) => {
            format!("<{text}{}>", unit.map_or_else(String::new, |u| format!(" in {u}")))
        }
        Said::Hole(..) => String::new(),
    };
    message.said().map(words).collect()
}

#[test]
fn a_template_is_taken_apart_at_its_holes() {
    for (template, expected) in [
        ("{a} and {b}", "<A> and <B>"),
        ("{ a }{b:W}.", "<A><B in W>."),
        ("no hole", "no hole"),
        ("", ""),
        ("{a", "{a"),
        ("a} {b}", "a} <B>"),
        ("{c} {a}", "{c} <A>"),
        ("{{a} é{b:}", "{{a} é<B in >"),
    ] {
        assert_eq!(told(template), expected, "{template}");
    }
}
