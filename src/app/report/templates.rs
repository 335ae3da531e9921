//! How templates of pages are read, and how values get into them.

use minijinja::value::ValueKind;
use minijinja::{Environment, Output, State, Value, escape_formatter};

/// Templates under their names. Every text on its way to a page goes through `clean`, which makes
/// letters that act inert; then HTML is escaped.
pub(crate) fn environment(
    templates: &'static [(&'static str, &'static str)],
    clean: fn(&str) -> String,
) -> Result<Environment<'static>, minijinja::Error> {
    let mut env = Environment::new();
    env.set_trim_blocks(true);
    env.set_lstrip_blocks(true);
    env.set_formatter(
        move |out: &mut Output<'_>, state: &State<'_, '_>, value: &Value| match value.as_str() {
            Some(text) if value.kind() == ValueKind::String && !value.is_safe() => {
                escape_formatter(out, state, &Value::from(clean(text)))
            }
            _ => escape_formatter(out, state, value),
        },
    );
    for (name, text) in templates {
        env.add_template(name, text)?;
    }
    Ok(env)
}
