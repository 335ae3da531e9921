//! Help, from the table of commands.

use crate::app::prompt::command::{COMMANDS, NAMING};
use crate::app::prompt::output::{Page, Role};
use crate::app::report::escape::width;
use crate::source::Problem;
use crate::words::{clip, nearest};

/// Every command, or more about one.
///
/// # Errors
/// There is no such command.
pub(super) fn help(page: &mut Page, name: Option<&str>) -> Result<(), Problem> {
    let Some(name) = name else {
        all(page);
        return Ok(());
    };
    let Some(entry) = COMMANDS.iter().find(|e| e.name == name) else {
        let problem = Problem::new(format!("there is no command `{}`", clip(name, 40)));
        return Err(match nearest(name, COMMANDS.iter().map(|e| e.name)) {
            Some(near) => problem.help(format!("did you mean `{near}`?")),
            None => problem.help("`help` lists what there is"),
        });
    };
    page.put(Role::Command, entry.name).say(" ").flow(
        Role::Plain,
        entry.usage,
        entry.name.len() + 1,
        2,
    );
    page.say("  ").flow(Role::Plain, entry.does, 2, 2);
    if !entry.more.is_empty() {
        page.say("  ").flow(Role::Plain, entry.more, 2, 2);
    }
    if entry.usage.contains("LINE") {
        page.say("  ").flow(
            Role::Plain,
            NAMING.split_once(" `= EXPRESSION`").map_or(NAMING, |(first, _)| first),
            2,
            2,
        );
    }
    Ok(())
}

fn all(page: &mut Page) {
    let wide = COMMANDS.iter().map(|e| width(e.name)).max().unwrap_or(0) + 1;
    let form = |e: &crate::app::prompt::command::Entry| width(e.usage);
    let usage = COMMANDS.iter().map(form).filter(|w| *w <= 28).max().unwrap_or(0);
    let narrow = page.look.width < wide + usage + 30;
    for entry in COMMANDS {
        page.cell(Role::Command, entry.name, wide);
        if narrow {
            page.flow(
                Role::Plain,
                &format!(
                    "{} {} {}",
                    entry.usage,
                    if entry.usage.is_empty() { "" } else { "·" },
                    entry.does
                ),
                wide + 1,
                wide + 1,
            );
        } else if form(entry) > usage {
            page.say(entry.usage).end();
            page.say(&" ".repeat(wide + usage + 3)).flow(
                Role::Plain,
                entry.does,
                wide + usage + 3,
                wide + usage + 3,
            );
        } else {
            page.cell(Role::Plain, entry.usage, usage + 1).flow(
                Role::Plain,
                entry.does,
                wide + usage + 3,
                wide + usage + 3,
            );
        }
    }
    page.end().flow(Role::Plain, NAMING, 0, 0);
}
