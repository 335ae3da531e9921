use super::*;

#[test]
fn forms_write_what_names_them() {
    for (name, form) in DateForm::ALL {
        assert_eq!(form.write(jiff::civil::date(2026, 11, 20)), name);
    }
    for (name, form) in NumberForm::ALL {
        assert_eq!(form.write("1234.56").replace('\u{a0}', " "), name);
    }
    assert_eq!(NumberForm::Commas.write("-1234567"), "-1,234,567");
    assert_eq!(NumberForm::Dots.write("999.5"), "999,5");
    assert_eq!(NumberForm::Dots.write("1.2.3"), "1.2.3");
}
