//! `wiring(build)`: the front leads of the chassis matched to the headers of the board, as scripts
//! get it.

use std::rc::Rc;

use rhai::{Array, Dynamic, ImmutableString, Map, NativeCallContext};

use crate::audit::ask::Ask;
use crate::audit::expr::{Expr, LineWord};
use crate::audit::lack::Lack;
use crate::build::wiring::{Entry, READS, plan};
use crate::rules::host::{Cut, Host, Res, say};
use crate::rules::tracked::{LineRef, RecordRef};

/// Puts down as read all that the plan looks at, and hands it out as plain data with handles.
pub(crate) fn wiring(host: &Rc<Host>, ctx: &NativeCallContext<'_>) -> Res<Dynamic> {
    for (kind, fields) in READS {
        read(host, ctx, kind, fields)?;
    }
    let build = host.build()?;
    let plan = match plan(&build) {
        Ok(plan) => plan,
        Err((kind, nth)) => return host.stop(Cut::Lack(Lack::from((kind, nth)))),
    };
    let placed: Array = plan
        .placed
        .iter()
        .map(|p| {
            let via =
                p.via.map_or(Dynamic::UNIT, |(kind, nth)| Dynamic::from(LineRef { kind, nth }));
            map([
                ("lead", handle(p.lead)),
                ("header", handle(p.header)),
                ("via", via),
                ("gbps", Dynamic::from(p.gbps)),
            ])
        })
        .collect();
    let unplaced: Array = plan
        .unplaced
        .iter()
        .map(|(lead, why)| {
            map([("lead", handle(*lead)), ("why", ImmutableString::from(why.text()).into())])
        })
        .collect();
    let spare: Array = plan.spare.iter().map(|header| handle(*header)).collect();
    Ok(map([("placed", placed.into()), ("unplaced", unplaced.into()), ("spare", spare.into())]))
}

fn map<const N: usize>(pairs: [(&str, Dynamic); N]) -> Dynamic {
    let mut map = Map::new();
    for (key, value) in pairs {
        map.insert(key.into(), value);
    }
    map.into()
}

fn handle(entry: Entry) -> Dynamic {
    Dynamic::from(RecordRef {
        line: LineRef { kind: entry.kind, nth: entry.nth },
        field: entry.field,
        index: entry.index,
    })
}

fn read(host: &Rc<Host>, ctx: &NativeCallContext<'_>, kind: &str, fields: &[&str]) -> Res<()> {
    let catalogue = host.build()?.catalogue.clone();
    let Some(id) = catalogue.kind_id(kind) else { return Ok(()) };
    let lines = host.count(ctx, Ask::Lines(id))?;
    for nth in 0..u16::try_from(lines).unwrap_or(0) {
        host.is(ctx, Ask::Chosen(id, nth))?;
        host.whole(ctx, host.expr(Expr::Line(id, nth, LineWord::Count)))?;
        for name in fields {
            match catalogue.kind(id).and_then(|k| k.field(name)) {
                Some((at, _)) => host.whole(ctx, host.expr(Expr::Field(id, nth, at)))?,
                None => {
                    return say(format!(
                        "wiring needs a field `{name}` of kind `{kind}`, which this catalogue does \
                         not have"
                    ));
                }
            };
        }
    }
    Ok(())
}
