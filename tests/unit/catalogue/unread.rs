use super::*;
use crate::layer::Layer;

/// The program's catalogue; with other texts that say the same, nothing of it waits.
fn catalogue(waits: bool) -> Catalogue {
    let mut layer = Layer::built_in_catalogue();
    for (_, source) in layer.files.iter_mut().filter(|(b, _)| b.starts_with("parts/")) {
        let end = if waits { "" } else { "\n" };
        *source = Source::new(source.name.clone(), format!("{}{end}", source.text));
    }
    Catalogue::load(&[layer]).expect("it loads")
}

#[test]
fn parts_that_wait_are_read_as_all_others() {
    let (later, now) = (catalogue(true), catalogue(false));
    assert!(now.slots.iter().all(|slot| slot.unread.is_none()));
    assert!(later.slots.iter().all(|slot| slot.unread.is_some()));
    assert!(later.slots.iter().any(|slot| slot.part.get().is_none()));
    assert_eq!((later.parts().len(), later.broken().len()), (now.parts().len(), 0));
    for (a, b) in later.parts().zip(now.parts()) {
        let told = |p: &Part| {
            let places = (&p.spans, p.head, p.source.name.as_str(), p.place.at);
            format!("{} {:?} {} {:?} {places:?}", p.id, p.kind, p.name, p.values)
        };
        assert_eq!(told(a), told(b));
        assert_eq!(later.part(&a.id).map(|p| p.head), Some(b.head));
    }
}

#[test]
fn what_lies_over_a_part_that_waits_counts() {
    let mut parts = catalogue(true);
    let id = parts.slots.first().map(|slot| slot.id.clone()).unwrap_or_default();
    let (kind, name) = id.split_once('/').unwrap_or_default();
    let over = format!("kind = \"{kind}\"\n[{name}]\nname = \"Other\"\n[{name}-2]\nx = 1\n");
    let shop = Layer::from_texts("shop", &[("parts/own.toml", &over)]);
    parts = Catalogue::load(&[Layer::built_in_catalogue(), shop]).expect("it loads");
    let part = parts.part(&id).expect("it is there");
    assert_eq!((&*part.name, part.under.is_some()), ("Other", true));
    assert_eq!(parts.broken().len(), 1, "the second has no such field");
    assert!(parts.parts().len() >= 250);
}
