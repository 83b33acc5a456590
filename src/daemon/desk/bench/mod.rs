//! The bench of the page: what can be put on it, the test that runs there.

mod begin;
mod now;
mod picture;
mod pieces;
mod plan;
mod when;

use super::ShopDesk;
use crate::daemon::judgement::rule_of;
use crate::daemon::session::OnTheBench;
use crate::daemon::session::Phase;
use crate::daemon::session::Said;
use crate::daemon::session::Standing;
use crate::page::Trouble;
use crate::page::view;
use crate::quantity::UnitSystem;
pub(super) use begin::begin;
pub(super) use begin::plan_of;
pub(super) use picture::picture;
pub use plan::LastForeseen;
use std::sync::Arc;

/// The bench and what it is run with.
#[derive(Debug, Clone)]
pub struct Bench {
    /// The place where a test runs.
    pub place: Arc<OnTheBench>,
    /// What was foreseen for the plan that was looked at last.
    pub foreseen: Arc<LastForeseen>,
    /// What was made good when the program was started, in sentences.
    pub made_good: Vec<String>,
}

/// The bench as a browser sees it.
pub(super) async fn bench(desk: &ShopDesk, who: &str, tag: &str) -> Result<view::Bench, Trouble> {
    let standing = standing(desk);
    match standing {
        None => begin::free(desk, tag).await,
        Some(standing) => {
            let place = &desk.bench.place;
            let seen = now::Seen {
                is_answering: place.is_answered_by(who),
                read_until: place.read_until(),
                units: units(desk),
                rule: rule_of(desk.shop.as_ref()),
                time_zone: &desk.time_zone(),
            };
            Ok(view::Bench::Taken(Box::new(seen.now(&standing))))
        }
    }
}

/// Tag of the unit whose test is under way.
pub(super) fn tag_on_the_bench(desk: &ShopDesk) -> Option<String> {
    let standing = standing(desk)?;
    let is_over = matches!(standing.phase, Phase::Over(_));
    (!is_over).then(|| standing.about.tag.clone())
}

/// Says something to the test.
pub(super) fn say(desk: &ShopDesk, who: &str, said: view::BenchSaid) -> Result<(), Trouble> {
    let place = &desk.bench.place;
    let said = match said {
        view::BenchSaid::TakeOver => {
            place.take_over(who);
            return Ok(());
        }
        _ if !place.is_answered_by(who) => return Err(Trouble::not_answering()),
        view::BenchSaid::Read(until) => {
            place.read(who, until);
            return Ok(());
        }
        view::BenchSaid::Clear => {
            place.clear(who);
            return Ok(());
        }
        view::BenchSaid::Done(number) => Said::Done(number),
        view::BenchSaid::Typed(number, text) => Said::Typed(number, text),
        view::BenchSaid::Stop => Said::Stop,
    };
    // What comes after its end was meant for what is over, and is nothing.
    let _ = place.say(who, said);
    Ok(())
}

/// Waits until the test is another than at `last`.
pub(super) async fn changed(desk: &ShopDesk, last: u64) -> u64 {
    desk.bench.place.changed(last).await
}

fn standing(desk: &ShopDesk) -> Option<Arc<Standing>> {
    desk.bench.place.standing()
}

fn units(desk: &ShopDesk) -> UnitSystem {
    desk.shop
        .as_ref()
        .map_or(UnitSystem::Metric, |shop| shop.units)
}
