//! Scratch.
use stillrod::account::FigureName;
fn main(){
 for s in stillrod::rehearsal::scenarios(){ if let Some(n)=std::env::args().nth(1){ if n!=s.name {continue;} }
  let t0=std::time::Instant::now();
  let bytes=stillrod::rehearsal::bench_bytes(&s).unwrap();
  let gn=t0.elapsed();
  let shop=stillrod::settings::Shop::parse("shop",stillrod::rehearsal::SHOP_TOML).unwrap();
  let setup=stillrod::settings::Setup::parse("setup",&s.setup_toml(),Some(&shop)).unwrap();
  let heading=stillrod::recording::Heading{run_id:"x".into(),started_utc_ms:0,time_zone:"UTC".into(),software:"".into(),source:"".into(),setup_toml:s.setup_toml(),shop_toml:stillrod::rehearsal::SHOP_TOML.into(),practice:"p".into()};
  let rec=stillrod::daemon::test_run::recording_from_capture(&bytes,heading,&setup).unwrap();
  let t1=std::time::Instant::now();
  let j=stillrod::daemon::judgement::judged(&rec,None).unwrap();
  let ev=t1.elapsed();
  let tr=s.truth().unwrap();
  println!("## {} -> {} (expected {:?} ok={}) gen {:?} eval {:?} rows {}",s.name,j.verdict.outcome.word(),s.expected,s.expected.allows(j.verdict.outcome.word()),gn,ev,rec.time_s().len());
  let q=60e6;
  println!("   truth start: loss {:.4} gain {:.4} bypass {:.4}  mean: loss {:.4} gain {:.4} drift {:.4} mm/min, leak {:.4} bar/min",tr.start.cap_loss*q,tr.start.rod_gain*q,tr.start.bypass*q,tr.mean.cap_loss*q,tr.mean.rod_gain*q,tr.drift_m_per_s*60e3,tr.leak_down_pa_per_s*60e-5);
  if let Ok(e)=&j.evaluation{ for n in FigureName::ALL{ if let Some(f)=e.figure(n){ let k=1.0/n.si_per_metric_unit(); match f.measured{ Some(m)=>println!("   {:18} {:9.4} ± {:.4}   mean {:?} top {:?}",n.word(),m.value_si*k,2.0*m.standard_si*k,f.mean_over_hold.map(|m|(m.value_si*k,2.0*m.standard_si*k)), f.budget.first().map(|b|(b.source,b.standard_si*k))), None=>println!("   {:18} [{:.4}, {:.4}]",n.word(),f.lower_si*k,f.upper_si*k)}}} for x in &e.findings{println!("   - {x}");} for d in &e.doubts{println!("   ! {d:?}");}} else {println!("   eval {:?}", j.evaluation)}
  for r in &j.verdict.reasons{println!("   R {r}");} for l in &j.verdict.judged{println!("   L {} {} {}",l.limit.id,l.outcome.word(),l.reason);} for f in &j.flags{println!("   F {f:?}");}
 }
}
