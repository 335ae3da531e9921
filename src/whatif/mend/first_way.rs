//! Some way to clear every stop, found soon: a search of the lines that there are, and where that
//! finds nothing the one change that clears most, and again. It is held to full audits, has
//! no change that it could do without, and is the answer where time ends before the fewest changes
//! are known.

use std::rc::Rc;
use std::sync::Arc;

use super::changes::{self, MendChange};
use super::{MendWay, Mender, SOON};
use crate::build::resolve::Resolved;
use crate::build::{Build, Line};
use crate::level::Level;
use crate::whatif::search::asked::{Asked, of_verdict};
use crate::whatif::search::query::{Goal, Keep, Quest};
use crate::whatif::search::solve::solve;

/// Most changes that are made one after the other.
const MOST_STEPS: usize = 12;

/// A list under way: each line with the one of the list that it comes from, none for a new one.
pub(super) type Draft = Vec<(Option<usize>, Line)>;

/// How bad a draft is: what stops it, how many lines changed, what was lost, what it costs.
type Badness = (usize, usize, i64, i64);

impl Mender<'_> {
    /// Some way, however many changes it takes; none where none is found soon. What stands twice on
    /// the list is left out at first, and put back where it does no harm.
    pub(super) fn first_way(&self) -> Option<MendWay> {
        let all: Draft = self.closed.lines.iter().cloned().enumerate().map(own).collect();
        let part = |line: &Line| line.part().map(|part| part.id.clone());
        let stands_twice = |at: usize, line: &Line| {
            let above = self.closed.lines.iter().take(at);
            self.elements.may_go(at) && above.map(part).any(|held| held == part(line))
        };
        let mut tidy = all.clone();
        tidy.retain(|(from, line)| from.is_none_or(|at| !stands_twice(at, line)));
        let tidied = (tidy.len() < all.len()).then(|| self.way_from(tidy)).flatten();
        tidied.or_else(|| self.way_from(all))
    }

    fn way_from(&self, mut draft: Draft) -> Option<MendWay> {
        let mut bad = self.badness(&draft);
        for _ in 0..MOST_STEPS {
            if bad.0 == 0 || self.limits.over() {
                break;
            }
            (draft, bad) = match self.searched(&draft) {
                Some(done) => (done, (0, 0, 0, 0)),
                None => self.best_step(&draft, bad)?,
            };
        }
        if self.badness(&draft).0 != 0 {
            return None;
        }
        let draft = self.without_needless(draft);
        if self.breaks(&draft) {
            return None;
        }
        (draft.iter().any(|(from, _)| from.is_none())
            || draft.len() != self.closed.lines.len()
            || self.changed(&draft) > 0)
            .then(|| self.way(&draft))
    }

    fn built(&self, draft: &Draft) -> Build {
        let lines = draft.iter().map(|(_, line)| line.clone()).collect();
        Build { lines, ..self.closed.clone() }
    }

    /// Whether some rule breaks on a draft, be it one that could stop nothing.
    fn breaks(&self, draft: &Draft) -> bool {
        let always = self.whole(0).map(|whole| whole.memo.broken()).unwrap_or_default();
        let audit = self.kit.audit(&self.built(draft));
        let mut failed = audit.failed().filter(|(rule, _)| rule.unit.is_none());
        failed
            .any(|(rule, _)| self.kit.rules().find(&rule.id).is_none_or(|at| !always.contains(&at)))
    }

    /// The rules that may stop a build, without those that break on whatever is chosen.
    fn stoppers(&self) -> &[u16] {
        self.stoppers.get_or_init(|| {
            let broken = self.whole(0).map(|whole| whole.memo.broken()).unwrap_or_default();
            let all = self.kit.rules();
            let rules = all.rules.iter().zip(0u16..);
            let may_stop = rules.filter(|(rule, at)| {
                let worst = rule.counts_as.or(rule.levels().first().copied());
                rule.unit.is_none()
                    && worst.is_none_or(|level| level >= Level::Stop)
                    && !broken.contains(at)
            });
            may_stop.map(|(_, at)| at).collect()
        })
    }

    /// How many lines of a draft are not as the list has them, those that went not counted.
    fn changed(&self, draft: &Draft) -> usize {
        let differs = |(from, line): &&(Option<usize>, Line)| {
            let now = from.and_then(|at| self.closed.lines.get(at));
            let open = from.is_some_and(|at| self.elements.is_open(at));
            !open && now.is_none_or(|now| !changes::same(now, line))
        };
        draft.iter().filter(differs).count()
    }

    fn badness(&self, draft: &Draft) -> Badness {
        let build =
            Rc::new(Resolved::new(Arc::new(self.built(draft)), self.kit.catalogue().clone()));
        let audit = self.kit.audit_with(&build, self.stoppers());
        let found = audit.tally().into_iter().filter(|((_, level), _)| *level >= Level::Stop);
        let mut stops = found.map(|(_, count)| count).sum::<usize>() + audit.failed().count();
        // What a part that was put in leaves open may stop the list.
        let put_in = |line: usize| {
            draft.get(line).is_some_and(|(from, line)| {
                let now = from.and_then(|at| self.closed.lines.get(at));
                now.is_none_or(|now| !changes::same(now, line))
            })
        };
        let open = audit.open_rules().into_iter().filter(|o| !o.waived && o.level >= Level::Stop);
        stops += open
            .filter(|open| {
                let mut slots = open.facts.iter().filter_map(|f| build.slot(f.kind, f.nth));
                slots.any(|slot| put_in(slot.line))
            })
            .count();
        let gone = self.closed.lines.len() - draft.iter().filter(|(f, _)| f.is_some()).count();
        let lost = draft.iter().filter_map(|(from, line)| {
            let at = from.filter(|at| !self.elements.is_open(*at))?;
            Some(changes::loss(&self.ranking, self.closed.lines.get(at)?, line))
        });
        let loss = lost.sum::<i64>() + gone as i64 * changes::WHOLE;
        (stops, self.changed(draft) + gone, loss, build.paid().minor())
    }

    /// The draft with the one change more that leaves the fewest stops, if it leaves fewer.
    fn best_step(&self, draft: &Draft, now: Badness) -> Option<(Draft, Badness)> {
        let audit = self.kit.audit(&self.built(draft));
        let tally = audit.tally();
        let stops = |rule: u16| tally.contains_key(&(rule, Level::Stop));
        let mut asked = Asked::default();
        of_verdict(&audit, stops, |_, more| asked.join(more));
        let mut best: Option<(Draft, Badness)> = None;
        for next in self.steps(draft, &asked) {
            if self.limits.over() {
                break;
            }
            let bad = self.badness(&next);
            if bad.0 < now.0 && best.as_ref().is_none_or(|(_, held)| bad < *held) {
                best = Some((next, bad));
            }
        }
        best
    }

    /// Every draft that is one change away, of the kinds that were asked about.
    fn steps(&self, draft: &Draft, asked: &Asked) -> Vec<Draft> {
        let mut all = Vec::new();
        for (at, (from, line)) in draft.iter().enumerate() {
            let touched = self.elements.touched(asked, &line.kind());
            let Some(first) = from.and_then(|at| self.closed.lines.get(at)).filter(|_| touched)
            else {
                continue;
            };
            let variants = self.elements.variants(self.kit, from.unwrap_or(at), first, self.sold);
            all.extend(variants.into_iter().filter(|new| !changes::same(new, line)).map(|new| {
                let mut next = draft.clone();
                if let Some(slot) = next.get_mut(at) {
                    slot.1 = new;
                }
                next
            }));
            let of_kind = draft.iter().filter(|(_, l)| l.kind() == line.kind()).count();
            if of_kind > 1 && !from.is_some_and(|at| self.elements.is_open(at)) {
                let mut next = draft.clone();
                next.remove(at);
                all.push(next);
            }
        }
        let new = |kind: &_| draft.iter().any(|(f, l)| f.is_none() && l.kind() == *kind);
        for kind in self.elements.may_add(asked).filter(|kind| !new(kind)) {
            let lines = self.elements.new_lines(self.kit, self.closed, kind, self.sold);
            all.extend(lines.into_iter().map(|line| {
                let mut next = draft.clone();
                next.push((None, line));
                next
            }));
        }
        all
    }

    /// A draft of the same lines that nothing stops, every one of them free.
    fn searched(&self, draft: &Draft) -> Option<Draft> {
        let shape = self.elements.shape_of(draft);
        let whole = self.whole(shape)?;
        let memo = Some(&whole.memo);
        // Each search begins with the lines that were most to blame in those before it. What is
        // held to a cap is found from the cheap end.
        let capped = !self.of_the_whole.is_empty();
        let ends: &[&[Goal]] = &[&[Goal::Price], &[Goal::Loss, Goal::Price]];
        let goals = ends.iter().skip(usize::from(!capped));
        let mut outcomes = goals.flat_map(|goals| SOON.iter().map(move |n| (*goals, *n))).map(
            |(goals, most_nodes)| {
                let (keep, goals) = (Keep::Best(1), goals.to_vec());
                solve(&Quest { keep, goals, most_nodes, memo, ..self.quest(&whole.space) })
            },
        );
        let last = outcomes.find(|outcome| outcome.proven || !outcome.found.is_empty())?;
        let found = last.found.into_iter().next()?;
        let from = whole.own.iter().map(|own| own.map(|(line, _)| line));
        Some(from.zip(whole.space.build(&found.picks).lines).collect())
    }

    /// A draft that nothing stops with every change taken back that it can do without.
    fn without_needless(&self, mut draft: Draft) -> Draft {
        let lost = |at: usize, now: &Line| {
            let then = draft.iter().find(|(from, _)| *from == Some(at));
            then.map_or(changes::WHOLE, |(_, then)| changes::loss(&self.ranking, now, then))
        };
        let mut all: Vec<(usize, &Line)> = self.closed.lines.iter().enumerate().collect();
        all.sort_by_key(|(at, now)| std::cmp::Reverse(lost(*at, now)));
        for (at, now) in all {
            let mut back = draft.clone();
            match back.iter_mut().find(|(from, _)| *from == Some(at)) {
                Some((_, line)) if changes::same(now, line) => continue,
                Some((_, line)) => *line = now.clone(),
                None => {
                    let place = back.iter().position(|(from, _)| from.is_none_or(|f| f > at));
                    back.insert(place.unwrap_or(back.len()), (Some(at), now.clone()));
                }
            }
            if self.badness(&back).0 == 0 {
                draft = back;
            }
        }
        while let Some(less) = (0..draft.len()).find_map(|at| {
            let mut back = draft.clone();
            let (from, _) = back.remove(at);
            (from.is_none() && self.badness(&back).0 == 0).then_some(back)
        }) {
            draft = less;
        }
        draft
    }

    /// A draft that nothing stops as a way.
    pub(super) fn way(&self, draft: &Draft) -> MendWay {
        let mut changed = Vec::new();
        let mut loss = 0;
        for (from, then) in draft {
            let Some(at) = *from else { continue };
            let Some(now) = self.closed.lines.get(at).filter(|_| !self.elements.is_open(at)) else {
                continue;
            };
            changed.extend(changes::change(&self.ranking, self.line(at), now, then));
            loss += changes::loss(&self.ranking, now, then);
        }
        for (at, now) in self.closed.lines.iter().enumerate() {
            if let (false, Some(part)) = (draft.iter().any(|(f, _)| *f == Some(at)), now.part()) {
                changed.push(MendChange::Drop { line: self.line(at), part: part.clone() });
                loss += changes::WHOLE;
            }
        }
        let new = draft.iter().filter(|(from, _)| from.is_none());
        changed.extend(new.filter_map(|(_, line)| MendChange::add(line)));
        let build = self.built(draft);
        let (before, total) = (super::paid(self.kit, self.closed), super::paid(self.kit, &build));
        let more = total.over(&before).unwrap_or(total.money);
        let (raises, sparing, offered) = (Vec::new(), false, true);
        MendWay { changes: changed, loss, sparing, raises, offered, total, more, build }
    }

    /// The line of the list that a line with a part stands on.
    fn line(&self, at: usize) -> usize {
        self.held.get(at).copied().unwrap_or(at)
    }
}

fn own((at, line): (usize, Line)) -> (Option<usize>, Line) {
    (Some(at), line)
}
