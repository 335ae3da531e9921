use super::*;

#[test]
fn what_is_a_list_is_decided_by_reading() {
    for text in [
        "",
        "# nothing yet\n",
        "[[line]]\npart = \"fan/x\"\n",
        "line = [{ part = \"fan/x\" }]\n",
        "[[line]\npart = \"fan/x\"\n",
        "[[lines]]\npart = \"fan/x\"\n",
        "[[ line ]]\n",
        "[[\"line\"]]\n",
        "title = \"cut sho",
        "title = \"no lines yet\"\n",
        "budget = \"12.00 EUR\"\n",
    ] {
        assert_eq!(Sort::of(text), Sort::List, "{text}");
    }
    for text in ["needs = [\"fan\"]\n", "title = \"a\"\nminimise = [\"price\"]\n"] {
        assert_eq!(Sort::of(text), Sort::Brief, "{text}");
    }
    for text in ["[package]\nversion = \"1\"\n", "kind = \"fan\"\n", "[[case]]\n"] {
        assert_eq!(Sort::of(text), Sort::Other, "{text}");
    }
    assert_eq!(Sort::of("[[accepted]]\nlist = \"a\"\n"), Sort::Accepted);
}
