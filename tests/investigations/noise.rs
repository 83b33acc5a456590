//! The same inquiries with other noise and other sensors: a wrong name costs a day.

use crate::inquiry::Looked::Nobody;
use crate::inquiry::Looked::Rags;
use crate::inquiry::ML_MIN;
use crate::inquiry::play;
use crate::noticed::strays;
use stillrod::account::investigation::Attribution;
use stillrod::account::investigation::Standing;
use stillrod::rehearsal::Inquiry;
use stillrod::rehearsal::inquiries;

/// A seal's film that nobody calls a leak, m³/s.
const FILM_M3_PER_S: f64 = 0.002 * ML_MIN;

#[test]
fn no_sound_part_is_named_and_no_leak_is_cleared_with_other_noise() {
    let all = inquiries();
    let (mut wrong, mut n_named) = (Vec::new(), 0);
    std::thread::scope(|scope| {
        let halves: Vec<_> = (0..2)
            .map(|half| {
                let mine: Vec<Inquiry> = all.iter().skip(half).step_by(2).cloned().collect();
                scope.spawn(move || mine.into_iter().map(wrongs).collect::<Vec<_>>())
            })
            .collect();
        for half in halves {
            for (found, named) in half.join().expect("no panic") {
                wrong.extend(found);
                n_named += named;
            }
        }
    });
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert!(n_named > 100, "only {n_named} parts were named");
}

/// What is wrong of an inquiry with other seeds, and how many parts were named.
fn wrongs(inquiry: Inquiry) -> (Vec<String>, usize) {
    let (mut wrong, mut n_named) = (Vec::new(), 0);
    for seed in [7_001, 7_201] {
        let played = play(&inquiry.clone().with_seed(seed));
        for looked in [Nobody, Rags] {
            let Some(found) = played.attributed(looked) else {
                continue;
            };
            wrong.extend(strays(inquiry.name, &found));
            // Where phases contradict each other nothing is said.
            if found.contradiction.is_some() {
                continue;
            }
            println!("seed {seed}, {looked:?}: {}", played.table(&found));
            n_named += named(&found);
            for answer in &found.answers {
                let truth = played.truth(answer);
                let is_wrong = match answer.standing {
                    Standing::Leaks => truth < FILM_M3_PER_S,
                    Standing::Tight => truth > found.small_m3_per_s,
                    _ => false,
                };
                if is_wrong {
                    wrong.push(format!("seed {seed}, {looked:?}: {answer:?}, true {truth}"));
                }
            }
        }
    }
    (wrong, n_named)
}

fn named(found: &Attribution) -> usize {
    let answers = found.answers.iter();
    answers.filter(|a| a.standing == Standing::Leaks).count()
}

/// Seeds for which the solver's last steps were lost in rounding.
#[test]
fn sums_can_be_solved_with_any_noise() {
    let inquiry = stillrod::rehearsal::inquiry("plugged-drift-goes-on").expect("an inquiry");
    for seed in [90_750, 91_200, 92_550, 94_700, 95_000, 98_200, 98_500] {
        // `attributed` expects an answer.
        assert!(
            play(&inquiry.clone().with_seed(seed))
                .attributed(Nobody)
                .is_some()
        );
    }
}
