use super::found;

#[test]
fn words_are_found_in_prose_and_not_in_names() {
    assert_eq!(found("The lead of {box} is `till`.", true).len(), 1);
    assert_eq!(found("The table lead holds power_leads.x over DisplayPort.", true), []);
    assert_eq!(found("Watts in hand.", false).len(), 1);
}
