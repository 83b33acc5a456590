//! x
mod support {
    pub mod inquiry;
    pub mod play;
}
use support::inquiry::*;
#[test]
fn explore() {
    for i in stillrod::rehearsal::inquiries() {
        let p = play(&i);
        for h in &p.holds {
            let e = h.evaluation();
            let o = &h.judgement.verdict.outcome;
            println!(
                "== {} {} x0 {:?} outcome {:?} seen {:?}",
                i.name,
                h.label,
                h.truth.drift_m_per_s * 6e4,
                o.word(),
                h.seen
            );
            println!("   truth mean {:?}", h.truth.mean.clone());
            if let Some(c) = &e.counted {
                for ch in &c.chambers {
                    let (v, s) = c.sum(*ch).unwrap();
                    println!("   {:?} {:.4} ± {:.4}", ch, v / ML_MIN, s / ML_MIN);
                }
                println!(
                    "   pcap {:.1} -> {:.1} prod {:?} -> {:?}",
                    c.drive.p_cap_pa[0] / 1e5,
                    c.drive.p_cap_pa.last().unwrap() / 1e5,
                    c.drive.p_rod_pa.as_ref().map(|p| p[0] / 1e5),
                    c.drive.p_rod_pa.as_ref().map(|p| p.last().unwrap() / 1e5)
                );
            } else {
                println!("   NOT COUNTED doubts {:?} met {:?}", e.doubts, e.met);
            }
            println!("   doubts {:?}\n   findings {:?}", e.doubts, e.findings);
            for f in &h.judgement.flags {
                println!("   flag {:?} {}", f.weight, f.evidence);
            }
        }
        for eyes in [false, true] {
            match p.attributed(eyes) {
                Some(a) => println!("ATTR eyes {eyes} {}", p.table(&a)),
                None => println!("ATTR {} NONE", i.name),
            }
        }
    }
}
