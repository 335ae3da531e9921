use super::*;

#[test]
fn a_choice_is_on_record_by_its_number() {
    let question = "2 lines fit `fan`: which?";
    assert_eq!(settled("drop fan", question, "#11 fan/lull-120 x1"), "drop #11");
    assert_eq!(settled("set fan count 2", question, "#10 fan/a"), "set #10 count 2");
    assert_eq!(settled("why", "which rule?", "fit.picture"), "why fit.picture");
}
