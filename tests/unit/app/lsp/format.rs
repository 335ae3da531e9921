use super::*;

#[test]
fn equals_line_up_and_comments_stay() {
    let text = "a = 1   # one\nlonger=2\n\n\n\n# said\n\
                    b  =  [\n 1, # x\n]\n[[line]]  \npart=\"fan/x\" # c\ncount    = 2";
    let laid = "a      = 1   # one\nlonger = 2\n\n# said\n\
                    b = [\n 1, # x\n]\n[[line]]\npart  = \"fan/x\" # c\ncount = 2\n";
    assert_eq!(laid_out(text).as_deref(), Some(laid));
    assert_eq!(laid_out(laid).as_deref(), Some(laid), "a second time changes nothing");
}

#[test]
fn a_text_that_would_say_something_else_stays() {
    for text in ["a = \"\"\"x  \ny\"\"\"\n", "a = 1\na = 2\n", "a = ", "[x\n"] {
        assert_eq!(laid_out(text), None, "{text}");
    }
}
