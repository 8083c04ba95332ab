use rand::SeedableRng;
use rayon::prelude::*;
use stillwheel_physics::bench::virtual_bench::by_hand::by_hand;
use stillwheel_physics::bench::virtual_bench::play::play;
use stillwheel_physics::bench::virtual_bench::*;
fn main() {
    let n: usize = std::env::args().nth(1).map_or(100, |a| a.parse().unwrap());
    let grade: f64 = std::env::args().nth(2).map_or(1.0, |a| a.parse().unwrap());
    let kind = if std::env::args().nth(3).is_some_and(|a| a == "ways") { StandKind::HardenedWays } else { StandKind::AirSaddles };
    let q = |v: &mut Vec<f64>, p: f64| {
        v.sort_by(f64::total_cmp);
        v[((v.len() - 1) as f64 * p) as usize]
    };
    let t0 = std::time::Instant::now();
    let make = |i: usize| {
        let mut rng = rand_xoshiro::Xoshiro256PlusPlus::seed_from_u64(1000 + i as u64);
        let rotor = draw_rotor(kind, grade, 0.05, &mut rng);
        let stand = draw_stand(kind, &rotor, &mut rng);
        let person = draw_person(&mut rng);
        let bench = VirtualBench::new(rotor, stand, person, &mut rng);
        (bench, rng)
    };
    let r: Vec<_> = (0..n)
        .into_par_iter()
        .map(|i| {
            let (mut b, mut rng) = make(i);
            let p = play(&mut b, vec![], i as u64, &mut rng).unwrap();
            let ratio = p.residual.size().g_mm() / b.rotor.allowance.g_mm();
            (p, ratio)
        })
        .collect();
    let time = t0.elapsed().as_secs_f64();
    let mut looks: Vec<f64> = r.iter().map(|x| x.0.looks as f64).collect();
    let mut moves: Vec<f64> = r.iter().map(|x| x.0.moves as f64).collect();
    let mut ratio: Vec<f64> = r.iter().map(|x| x.1).collect();
    let declared: Vec<_> = r.iter().filter(|x| x.0.end == Some(stillwheel_physics::bench::next_step::Action::Accept)).collect();
    let good = declared.iter().filter(|x| x.1 <= 1.0).count();
    println!("policy {time:.1}s  {:.1} ms/step", time * 2.0 * 1000.0 / r.iter().map(|x| x.0.looks + 1).sum::<usize>() as f64);
    println!(
        "looks {} [{} {}] mean {:.2} moves {} [{} {}] mean {:.2} ratio {:.2} [{:.2} {:.2}] declared {:.3} inside of those {:.4} inside {:.3}",
        q(&mut looks, 0.5),
        q(&mut looks, 0.05),
        q(&mut looks, 0.95),
        looks.iter().sum::<f64>() / n as f64,
        q(&mut moves, 0.5),
        q(&mut moves, 0.05),
        q(&mut moves, 0.95),
        moves.iter().sum::<f64>() / n as f64,
        q(&mut ratio, 0.5),
        q(&mut ratio, 0.05),
        q(&mut ratio, 0.95),
        declared.len() as f64 / n as f64,
        good as f64 / declared.len() as f64,
        r.iter().filter(|x| x.1 <= 1.0).count() as f64 / n as f64
    );
    for k in 2..=14 {
        print!(" <= {k}: {:.1}% ", 100.0 * declared.iter().filter(|x| x.0.looks <= k).count() as f64 / n as f64);
    }
    println!();
    let mut ends = std::collections::BTreeMap::new();
    for x in &r {
        *ends.entry(format!("{:?}", x.0.end)).or_insert(0) += 1;
    }
    println!("{ends:?}");
    let h: Vec<_> = (0..n)
        .into_par_iter()
        .map(|i| {
            let (mut b, mut rng) = make(i);
            let p = by_hand(&mut b, &mut rng);
            let ratio = p.residual.size().g_mm() / b.rotor.allowance.g_mm();
            (p, ratio)
        })
        .collect();
    let mut looks: Vec<f64> = h.iter().map(|x| x.0.looks as f64).collect();
    let mut moves: Vec<f64> = h.iter().map(|x| x.0.moves as f64).collect();
    let mut ratio: Vec<f64> = h.iter().map(|x| x.1).collect();
    let d: Vec<_> = h.iter().filter(|x| x.0.declared_done).collect();
    println!(
        "hand looks {} [{} {}] moves {} [{} {}] ratio {:.2} [{:.2} {:.2}] declared {:.3} inside of those {:.3} inside {:.3}",
        q(&mut looks, 0.5),
        q(&mut looks, 0.05),
        q(&mut looks, 0.95),
        q(&mut moves, 0.5),
        q(&mut moves, 0.05),
        q(&mut moves, 0.95),
        q(&mut ratio, 0.5),
        q(&mut ratio, 0.05),
        q(&mut ratio, 0.95),
        d.len() as f64 / n as f64,
        d.iter().filter(|x| x.1 <= 1.0).count() as f64 / d.len() as f64,
        h.iter().filter(|x| x.1 <= 1.0).count() as f64 / n as f64
    );
    let mut f: Vec<f64> = h.iter().filter_map(|x| x.0.first_inside).map(|x| x.0 as f64).collect();
    println!("oracle looks {} share {}", q(&mut f, 0.5), f.len() as f64 / n as f64);
}
