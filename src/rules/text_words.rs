//! Words for tracked texts, lists and counts.

use std::sync::Arc;

use rhai::{Array, Dynamic, FnPtr, INT, ImmutableString};

use crate::audit::ask::{Answer, Ask};
use crate::audit::expr::{Expr, ExprId};
use crate::catalogue::value::Val;
use crate::rules::host::{Call, Host, Res, say_help};
use crate::rules::tracked::{Counts, List, Num, Text, type_words};
use crate::rules::word_table::{AS_TEXT, Registrar};

impl Host {
    /// The expression of a text, tracked or the script's own.
    pub fn as_text(&self, value: &Dynamic) -> Option<(ExprId, Arc<str>)> {
        if let Some(text) = value.clone().try_cast::<Text>() {
            return Some((text.id, text.value));
        }
        let text = value.clone().try_cast::<ImmutableString>()?;
        let shared: Arc<str> = text.as_str().into();
        Some((self.expr(Expr::Word(shared.clone())), shared))
    }

    fn same(&self, ctx: &Call<'_>, a: ExprId, b: ExprId) -> Res<bool> {
        self.is(ctx, Ask::Equal(a, b))
    }

    fn word(&self, text: &str) -> ExprId {
        self.expr(Expr::Word(text.into()))
    }

    /// Reads a list, counts or records as a whole.
    pub fn whole(&self, ctx: &Call<'_>, id: ExprId) -> Res<Val> {
        match self.ask(ctx, Ask::Value(id))? {
            Answer::Value(value) => Ok(value),
            _ => Ok(Val::Absent),
        }
    }
}

/// Puts the words for texts, lists and counts into an engine.
pub(crate) fn register(reg: &mut Registrar<'_>) {
    reg.subject = "Texts and lists";
    reg.engine.register_type_with_name::<Text>("a text");
    reg.engine.register_type_with_name::<List>("a list of words");
    reg.engine.register_type_with_name::<Counts>("counts by word");
    texts(reg);
    functions(reg);
    absent_in_texts(reg);
    lists(reg);
    counts(reg);
}

/// What a closure is called is chance, so no script gets to see it.
fn functions(reg: &mut Registrar<'_>) {
    let nameless = |_: &mut FnPtr| -> Res<ImmutableString> {
        say_help("a function has no name here", "give what it does a name with `let`, and call it")
    };
    reg.engine.register_get("name", nameless);
    reg.engine.register_fn("name", nameless);
    for name in ["to_string", "to_debug"] {
        reg.engine.register_fn(name, |_: &mut FnPtr| -> ImmutableString { "a function".into() });
    }
}

/// What is absent would add nothing to a text, and a message would say so without a word.
fn absent_in_texts(reg: &mut Registrar<'_>) {
    let none = || -> Res<ImmutableString> {
        say_help(
            "what is absent cannot be part of a text",
            "ask before whether it is there: `if x != () { … }`; or say what stands for it: \
             `x ?? \"none\"`",
        )
    };
    for name in ["+", "+="] {
        reg.engine.register_fn(name, move |_: &mut ImmutableString, (): ()| none());
    }
    reg.engine.register_fn("+", move |(): (), _: ImmutableString| none());
    for name in ["print", "to_debug"] {
        reg.engine.register_fn(name, |(): ()| "absent");
    }
    reg.text(&["to_string"], move |host, ctx, (): &mut ()| {
        if let (Err(mut error), Some(frame)) = (none(), host.state.borrow_mut().frames.last_mut()) {
            error.set_position(ctx.call_position());
            frame.unheard.get_or_insert(error);
        }
        none()
    });
}

fn texts(reg: &mut Registrar<'_>) {
    reg.word("text == \"word\"", "whether two texts are the same; `!=` whether they differ");
    for (name, same) in [("==", true), ("!=", false)] {
        reg.two(name, move |host, ctx, a: Text, b: Text| Ok(host.same(ctx, a.id, b.id)? == same));
        reg.two(name, move |host, ctx, a: Text, b: ImmutableString| {
            Ok(host.same(ctx, a.id, host.word(&b))? == same)
        });
        reg.two(name, move |host, ctx, a: ImmutableString, b: Text| {
            Ok(host.same(ctx, host.word(&a), b.id)? == same)
        });
    }
    reg.word("text.plain()", "the plain text, read by its value: for building other texts");
    reg.text(&["to_string", "to_debug", "plain"], |host, ctx, a: &mut Text| {
        host.ask(ctx, Ask::Value(a.id))?;
        Ok((&*a.value).into())
    });
    for name in ["starts_with", "ends_with"] {
        let start = name == "starts_with";
        reg.two(name, move |host, ctx, a: Text, b: ImmutableString| {
            host.ask(ctx, Ask::Value(a.id))?;
            Ok(if start { a.value.starts_with(&*b) } else { a.value.ends_with(&*b) })
        });
    }
    reg.word("text.starts_with(\"…\"), text.ends_with(\"…\")", "how a text begins or ends");
    reg.engine.register_fn("contains", |_: Text, _: ImmutableString| -> Res<bool> {
        say_help("a text is not a list", "compare it with `==`")
    });
    reg.engine.register_fn("contains", |_: ImmutableString, _: Text| -> Res<bool> {
        say_help(
            "`in` between two texts looks for a piece of one in the other",
            "write a list of words: [\"a\", \"b\"]",
        )
    });
}

fn lists(reg: &mut Registrar<'_>) {
    reg.word(
        "word in list",
        "whether a list holds a word; also list.contains(word), and for an \
     array of the script's own",
    );
    reg.two("contains", |host, ctx, list: List, word: Text| {
        host.is(ctx, Ask::Contains(list.id, word.id))
    });
    reg.two("contains", |host, ctx, list: List, word: ImmutableString| {
        host.is(ctx, Ask::Contains(list.id, host.word(&word)))
    });
    let host = reg.host.clone();
    reg.engine.register_fn(
        "contains",
        move |ctx: Call<'_>, list: &mut Array, item: Dynamic| -> Res<bool> {
            host.among(&ctx, list, &item)
        },
    );
    reg.word("list.len()", "how many words; `list.is_empty()` whether there is none");
    reg.one("len", |host, ctx, list: List| Ok(INT::from(host.count(ctx, Ask::Len(list.id))?)));
    reg.one("is_empty", |host, ctx, list: List| Ok(host.count(ctx, Ask::Len(list.id))? == 0));
    reg.word("list.words()", "an array of plain words, read as a whole: `for w in list.words()`");
    for name in ["words", "keys"] {
        reg.one(name, |host, ctx, list: List| host.plain_words(ctx, list.id));
    }
    reg.engine.register_iterator::<List>();
    reg.text(AS_TEXT, |host, ctx, list: &mut List| Ok(host.whole(ctx, list.id)?.show().into()));
}

impl IntoIterator for List {
    type Item = Dynamic;
    type IntoIter = std::vec::IntoIter<Dynamic>;

    // A `for` loop can look at every item, so the whole list is recorded as read.
    fn into_iter(self) -> Self::IntoIter {
        self.host.loop_words(self.id).into_iter()
    }
}

impl Host {
    fn plain_words(&self, ctx: &Call<'_>, id: ExprId) -> Res<Array> {
        let texts = match self.whole(ctx, id)? {
            Val::List(words) => words.to_vec(),
            Val::Counts(pairs) => pairs.iter().map(|(k, _)| k.clone()).collect(),
            _ => Vec::new(),
        };
        Ok(texts.iter().map(|w| Dynamic::from(ImmutableString::from(&**w))).collect())
    }

    fn loop_words(&self, id: ExprId) -> Array {
        match self.ask_here(Ask::Value(id)) {
            Some(Answer::Value(Val::List(words))) => {
                words.iter().map(|w| Dynamic::from(ImmutableString::from(&**w))).collect()
            }
            _ => Array::new(),
        }
    }

    /// Whether an array of the script's own holds a value, each comparison put to the build.
    fn among(&self, ctx: &Call<'_>, list: &Array, item: &Dynamic) -> Res<bool> {
        for held in list {
            if let (Some((a, _)), Some((b, _))) = (self.as_text(held), self.as_text(item)) {
                if self.same(ctx, a, b)? {
                    return Ok(true);
                }
            } else if let (Some(a), Some(b)) = (self.as_num(held), self.as_num(item)) {
                if self.same(ctx, a.id, b.id)? {
                    return Ok(true);
                }
            } else {
                return say_help(
                    format!(
                        "`in` compares {} with {}",
                        type_words(item.type_name()),
                        type_words(held.type_name())
                    ),
                    "compare like with like",
                );
            }
        }
        Ok(false)
    }
}

fn counts(reg: &mut Registrar<'_>) {
    reg.word("counts[\"word\"]", "how many of a word; 0 when it is not there");
    reg.index(|host, _, counts: &mut Counts, key: ImmutableString| {
        host.count_of(counts.id, host.word(&key))
    });
    reg.index(|host, _, counts: &mut Counts, key: Text| host.count_of(counts.id, key.id));
    reg.word("counts.keys()", "its words, read as a whole");
    reg.one("keys", |host, ctx, counts: Counts| host.plain_words(ctx, counts.id));
    reg.two("contains", |host, ctx, counts: Counts, key: ImmutableString| {
        host.is(ctx, Ask::Contains(counts.id, host.word(&key)))
    });
    reg.two("contains", |host, ctx, counts: Counts, key: Text| {
        host.is(ctx, Ask::Contains(counts.id, key.id))
    });
    reg.text(AS_TEXT, |host, ctx, counts: &mut Counts| {
        Ok(host.whole(ctx, counts.id)?.show().into())
    });
}

impl Host {
    fn count_of(&self, counts: ExprId, key: ExprId) -> Res<Num> {
        let id = self.compound(Expr::KeyOf(counts, key))?;
        Ok(Num { id, value: self.number(id)? })
    }
}
