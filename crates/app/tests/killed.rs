//! The program killed in the middle of a sitting: what it had answered for is there after the next start.

mod common;

use common::{Program, get, post};
use std::collections::HashMap;
use std::hash::{BuildHasher, RandomState};
use std::path::Path;
use std::time::{Duration, Instant};
use stillwheel_store::{EventKind, Id, Store};

const KILLS: usize = 56;
/// Kills that one sitting has to bear; then a new one is begun, since a long one takes long to work out.
const KILLS_A_SITTING: usize = 4;

/// Looks and moves sent to one sitting, and what the server answered for.
struct Phone {
    path: String,
    sitting: Id,
    /// Tokens of acts that were answered with a redirect, with the angle that was sent.
    acknowledged: HashMap<String, (EventKind, f64)>,
    sent: usize,
}

impl Phone {
    fn begin(program: &Program) -> Self {
        let path = program.post("/sittings", &[("quick", "yes"), ("stand", "virtual"), ("operator", "Ada")]).location();
        let sitting = path.rsplit('/').next().unwrap().parse().unwrap();
        Self { path, sitting, acknowledged: HashMap::new(), sent: 0 }
    }

    /// One act; `None` when the server died over it.
    fn act(&mut self, address: &str) -> Option<()> {
        let page = get(address, &self.path).ok()?;
        assert_eq!(page.status, 200, "{}", page.text());
        let text = page.text();
        let after = text.split("name=\"after_seq\" value=\"").nth(1).unwrap().split('"').next().unwrap().to_owned();
        self.sent += 1;
        let token = format!("{}-{}", self.sitting, self.sent);
        let angle = (self.sent * 37 % 360) as f64;
        let typed = angle.to_string();
        let (kind, answer) = if self.sent % 3 == 2 {
            let places = [("token", token.as_str()), ("after_seq", &after), ("to_deg_0", &typed), ("to_deg_1", "120"), ("to_deg_2", "240")];
            (EventKind::Move, post(address, &format!("{}/moved", self.path), &places))
        } else {
            let look = [("token", token.as_str()), ("after_seq", &after), ("kind", "settle"), ("settle_deg", &typed), ("sd_deg", "5")];
            (EventKind::Look, post(address, &format!("{}/look", self.path), &look))
        };
        let answer = answer.ok()?;
        assert_eq!(answer.status, 303, "act {} was refused: {}", self.sent, answer.text());
        self.acknowledged.insert(token, (kind, angle));
        Some(())
    }

    /// Every acknowledged act is in the file, as it was sent.
    fn all_there(&self, store: &Store) {
        let events = store.events(&self.sitting).unwrap();
        for (token, (kind, angle)) in &self.acknowledged {
            let event = events.iter().find(|e| e.token == *token);
            let event = event.unwrap_or_else(|| panic!("{kind:?} at {angle}° was acknowledged and is not there"));
            let kept = match kind {
                EventKind::Move => event.body["to_deg"][0].as_f64(),
                _ => event.body["look"]["reading"]["settle_deg"].as_f64(),
            };
            assert_eq!((event.kind, kept), (*kind, Some(*angle)));
        }
        // One act more may be there than was answered for, never two: the phone waits for its answer.
        assert!(events.len() <= self.sent, "{} events of {} acts", events.len(), self.sent);
    }
}

fn shop(records: &Path) {
    stillwheel::demo::records(&Store::open(records).unwrap(), jiff::Timestamp::UNIX_EPOCH).unwrap();
}

#[test]
fn the_server_killed_at_random_points_of_a_sitting_keeps_every_acknowledged_look_and_move() {
    let folder = tempfile::tempdir().unwrap();
    let records = folder.path().join("records.db");
    shop(&records);
    let begun = Instant::now();
    let mut phones: Vec<Phone> = Vec::new();
    let mut cut_off = 0;
    for kill in 0..KILLS {
        let program = Program::serve(&records);
        if kill % KILLS_A_SITTING == 0 {
            phones.push(Phone::begin(&program));
        }
        let phone = phones.last_mut().unwrap();
        // After some acts, at a random moment of the next ones.
        for _ in 0..RandomState::new().hash_one(kill) % 3 {
            phone.act(&program.address).expect("nobody killed it yet");
        }
        let wait = Duration::from_micros(RandomState::new().hash_one(kill) % 60_000);
        let address = program.address.clone();
        let killer = std::thread::spawn(move || {
            std::thread::sleep(wait);
            program.kill()
        });
        while phone.act(&address).is_some() {}
        cut_off += 1;
        assert_eq!(killer.join().unwrap().code(), None, "it died of the kill, not of a fault of its own");
        let store = Store::open(&records).unwrap();
        store.verify().unwrap();
        for phone in &phones {
            phone.all_there(&store);
        }
    }
    // And the pages show them: the last start of the program tells every look of the last sitting.
    let program = Program::serve(&records);
    let last = phones.last().unwrap();
    let page = program.get(&last.path).text();
    for (kind, angle) in last.acknowledged.values() {
        if *kind == EventKind::Look {
            assert!(page.contains(&format!("Settled with {angle}° at the bottom")), "the look at {angle}° is not shown");
        }
    }
    let acknowledged: usize = phones.iter().map(|p| p.acknowledged.len()).sum();
    assert!(acknowledged >= KILLS / 2, "only {acknowledged} acts were acknowledged: the kills came too early to show anything");
    println!("{cut_off} kills, {acknowledged} acknowledged looks and moves, all there ({:.1?})", begun.elapsed());
}
