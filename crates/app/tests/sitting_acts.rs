//! Acts of a sitting over HTTP: screws in tapped holes, fixed weights, the rarer looks.

use axum_test::{TestResponse, TestServer};
use serde_json::Value;
use std::sync::Arc;
use stillwheel::sitting::{Act, Bench};
use stillwheel::web::{App, router};
use stillwheel_door::next_step::{Action, LookKind, NextStepOut};
use stillwheel_store::{By, Event, EventKind, Id, RingKind, Rotor, Store, WeightRing};

struct Shop {
    server: TestServer,
    store: Arc<Store>,
}

fn shop() -> Shop {
    let store = Arc::new(Store::open_in_memory().unwrap());
    stillwheel::demo::records(&store, jiff::Timestamp::UNIX_EPOCH).unwrap();
    Shop { server: TestServer::new(router(App::new(Bench::new(store.clone()), None, false))), store }
}

impl Shop {
    /// A sitting on the rotor whose name ends so, with more fields of the form.
    async fn sitting(&self, rotor: &str, more: &[(&str, &str)]) -> String {
        let r = self.new_sitting(rotor, more).await;
        assert_eq!(r.status_code(), 303, "{}", r.text());
        r.header("location").to_str().unwrap().to_owned()
    }

    async fn new_sitting(&self, rotor: &str, more: &[(&str, &str)]) -> TestResponse {
        let rotor = self.store.list::<Rotor>().unwrap().into_iter().find(|r| r.body.name.ends_with(rotor)).unwrap().id.to_string();
        let form = [&[("quick", "yes"), ("stand", "virtual"), ("rotor", rotor.as_str()), ("operator", "Ada")], more].concat();
        self.server.post("/sittings").form(&form).await
    }

    /// An act with a token of its own, after all that was stored.
    async fn act(&self, path: &str, kind: &str, fields: &[(&str, &str)]) -> TestResponse {
        let seq = self.events(path).len().to_string();
        let token = format!("t{seq}-{kind}-{}", fields.len());
        let form = [&[("token", token.as_str()), ("after_seq", seq.as_str())], fields].concat();
        self.server.post(&format!("{path}/{kind}")).form(&form).await
    }

    /// Looks as advised until a move is: the wheel that the virtual stand hides is another one each time.
    async fn looked_until_a_move(&self, path: &str) -> NextStepOut {
        for _ in 0..12 {
            let step = Bench::new(self.store.clone()).sat(&id(path)).unwrap().step.unwrap();
            if step.action == Action::MoveThenLook {
                return step;
            }
            let look = if step.look == Some(LookKind::Swing) { "swing" } else { "settle" };
            assert_eq!(self.act(path, "virtual", &[("look", look)]).await.status_code(), 303);
        }
        panic!("no move after twelve looks")
    }

    fn events(&self, path: &str) -> Vec<Event> {
        self.store.events(&id(path)).unwrap()
    }
}

fn id(path: &str) -> Id {
    path.rsplit('/').next().unwrap().parse().unwrap()
}

#[tokio::test]
async fn a_sitting_on_tapped_holes_goes_from_the_first_look_to_the_certificate() {
    let shop = shop();
    let path = shop.sitting("adapter C", &[]).await;
    let bench = Bench::new(shop.store.clone());
    let mut screws_changed = 0;
    for turn in 0.. {
        assert!(turn < 30);
        let sat = bench.sat(&id(&path)).unwrap();
        let step = sat.step.unwrap();
        let page = shop.server.get(&path).await.text();
        if !step.screw_changes.is_empty() {
            for c in &step.screw_changes {
                assert!(page.contains(&format!("hole {}, at ", c.hole + 1)), "{page}");
            }
        }
        let r = match step.action {
            Action::Accept => shop.act(&path, "verdict", &[("proven", "yes")]).await,
            Action::MoveThenLook => {
                screws_changed += step.screw_changes.len();
                // As the page's own form has it: the rows of what shall be in, by hole number and place in the stock.
                let ring = &sat.sitting.start.ring.body;
                let then = stillwheel::sitting::screws_in(ring, &step.weights_then);
                let rows: Vec<(String, String)> = then
                    .iter()
                    .enumerate()
                    .filter_map(|(h, k)| k.map(|k| (h, k)))
                    .enumerate()
                    .flat_map(|(row, (h, k))| [(format!("hole_{row}"), (h + 1).to_string()), (format!("screw_{row}"), k.to_string())])
                    .collect();
                for (name, value) in &rows {
                    assert!(page.contains(&format!("name=\"{name}\"")), "{name}");
                    assert!(
                        !name.starts_with("hole")
                            || page.contains(&format!("id=\"then-{name}\" name=\"{name}\" type=\"text\" value=\"{value}\"")),
                        "{name}"
                    );
                }
                let fields: Vec<(&str, &str)> = rows.iter().map(|(a, b)| (a.as_str(), b.as_str())).collect();
                shop.act(&path, "screws", &fields).await
            }
            _ => {
                let look = if step.look == Some(LookKind::Swing) { "swing" } else { "settle" };
                shop.act(&path, "virtual", &[("look", look)]).await
            }
        };
        assert_eq!(r.status_code(), 303, "{}", r.text());
        if r.header("location").to_str().unwrap() == path && bench.sat(&id(&path)).unwrap().verdict.is_some() {
            break;
        }
    }
    assert!(screws_changed > 0);
    let certificate = shop.server.get(&format!("{path}/certificate")).await.text();
    assert!(certificate.contains("Residual unbalance within the allowance") && certificate.contains(">hole "), "{certificate}");
    assert!(certificate.contains("Screws changed: hole "));
}

#[tokio::test]
async fn impossible_screws_are_refused_at_their_fields_and_kept() {
    let shop = shop();
    let path = shop.sitting("adapter C", &[]).await;
    let thirteen: Vec<(String, String)> =
        (0..7).flat_map(|k| [(format!("hole_{k}"), (k + 1).to_string()), (format!("screw_{k}"), "2".into())]).collect();
    let too_many: Vec<(&str, &str)> = thirteen.iter().map(|(a, b)| (a.as_str(), b.as_str())).collect();
    let rows = [
        ("hole out of range", vec![("hole_0", "25"), ("screw_0", "0")], "free-hole_0-fault", "no such hole"),
        ("screw not in stock", vec![("hole_0", "3"), ("screw_0", "7")], "free-screw_0-fault", "not in the stock"),
        (
            "two screws in one hole",
            vec![("hole_0", "3"), ("screw_0", "0"), ("hole_1", "3"), ("screw_1", "1")],
            "free-hole_1-fault",
            "Two screws",
        ),
        ("more than the stock has", too_many, "Not stored yet", "the stock has 6 screws"),
    ];
    for (what, fields, place, why) in rows {
        let r = shop.act(&path, "screws", &fields).await;
        assert_eq!(r.status_code(), 422, "{what}");
        let page = r.text();
        assert!(page.contains(place) && page.contains(why), "{what}: {page}");
        assert!(page.contains(&format!("value=\"{}\"", fields[0].1)), "{what}");
    }
    assert!(shop.events(&path).is_empty());
    // Angles are no answer on this ring, nor screws in a groove.
    assert_eq!(shop.act(&path, "moved", &[("to_deg_0", "10")]).await.status_code(), 422);
    let groove = shop.sitting("adapter A", &[]).await;
    assert_eq!(shop.act(&groove, "screws", &[("hole_0", "1"), ("screw_0", "0")]).await.status_code(), 422);
    assert_eq!(shop.act(&groove, "dance", &[]).await.status_code(), 404);
}

#[tokio::test]
async fn screws_that_are_in_at_the_start_count() {
    let shop = shop();
    let path = shop.sitting("adapter C", &[("hole_0", "3"), ("screw_0", "1"), ("hole_1", "7"), ("screw_1", "0")]).await;
    let start = shop.store.sitting(&id(&path)).unwrap().start;
    assert_eq!(start.screws_at_start.len(), 24);
    assert_eq!((start.screws_at_start[2], start.screws_at_start[6]), (Some(1), Some(0)));
    assert_eq!(shop.act(&path, "look", &[("kind", "settle"), ("settle_deg", "hole 7"), ("sd_deg", "3.5")]).await.status_code(), 303);
    let look = shop.events(&path)[0].body["look"].clone();
    // Hole 7 of 24 is at 6·15° = 90°; a screw of 2.3 g at 48 mm is 110.4 g·mm.
    assert_eq!(look["reading"]["settle_deg"], 90.0);
    assert!((look["weights"][2]["moment_g_mm"].as_f64().unwrap() - 110.4).abs() < 1e-9);
    let bad = shop.new_sitting("adapter C", &[("hole_0", "30"), ("screw_0", "1")]).await;
    assert_eq!(bad.status_code(), 422);
    assert!(bad.text().contains("no such hole"));
}

#[tokio::test]
async fn a_fixed_weight_stays_and_is_not_said_to_have_moved() {
    let shop = shop();
    let ring = shop.store.list::<WeightRing>().unwrap().into_iter().find(|r| r.body.name.contains("adapter A")).unwrap();
    let mut body = ring.body.clone();
    if let RingKind::Groove(g) = &mut body.kind {
        g.weights[1].fixed = true;
    }
    let by = By { who: "Ada".into(), at: jiff::Timestamp::UNIX_EPOCH };
    shop.store.revise(&ring.id, ring.revision, &body, &by).unwrap();
    // A hidden unbalance of at most 300 g·mm: two weights of 608 g·mm answer it and the fixed one, wherever it lies.
    let rotor = shop.store.list::<Rotor>().unwrap().into_iter().find(|r| r.body.name.ends_with("adapter A")).unwrap();
    let little = Rotor { expected_unbalance_g_mm: Some(200.0), ..rotor.body.clone() };
    shop.store.revise(&rotor.id, rotor.revision, &little, &by).unwrap();
    assert!(shop.server.get(&format!("/records/rings/{}", ring.id)).await.text().contains("name=\"fixed_2\" checked"));
    let path = shop.sitting("adapter A", &[]).await;
    let step = shop.looked_until_a_move(&path).await;
    assert!(!step.moves.is_empty() && step.moves.iter().all(|m| m.weight != 1), "{:?}", step.moves);
    let r = shop.act(&path, "moved", &[("to_deg_0", "10"), ("to_deg_1", "100"), ("to_deg_2", "250")]).await;
    assert_eq!(r.status_code(), 422);
    assert!(r.text().contains("This weight may not be moved"));
    assert_eq!(shop.act(&path, "moved", &[("to_deg_0", "10"), ("to_deg_1", "120"), ("to_deg_2", "250")]).await.status_code(), 303);
}

#[tokio::test]
async fn after_a_move_as_proposed_a_look_is_asked_for_and_not_another_move() {
    let shop = shop();
    for _ in 0..8 {
        let path = shop.sitting("adapter A", &[]).await;
        shop.looked_until_a_move(&path).await;
        let bench = Bench::new(shop.store.clone());
        let sat = bench.sat(&id(&path)).unwrap();
        let act = Act { token: "as-proposed".into(), after_seq: sat.standing.latest_seq, by: By::now("Ada") };
        bench.as_proposed(&id(&path), &act).unwrap();
        let step = bench.sat(&id(&path)).unwrap().step.unwrap();
        assert_eq!(step.action, Action::Look, "nothing was seen since the move");
    }
}

#[tokio::test]
async fn the_virtual_stand_answers_every_look() {
    let shop = shop();
    let path = shop.sitting("adapter A", &[]).await;
    // Before it has settled nobody knows where to hold it.
    let early = shop.act(&path, "virtual", &[("look", "holds")]).await;
    assert_eq!(early.status_code(), 422);
    assert!(early.text().contains("let it settle first"));
    let trial = [("look", "swing"), ("mass_g", "20"), ("radius_mm", "38"), ("at_deg", "90")];
    let turned = [("look", "settle"), ("turned_on_arbor_deg", "180")];
    for fields in [&[("look", "settle")][..], &[("look", "holds")], &[("look", "log")], &trial, &turned] {
        let r = shop.act(&path, "virtual", fields).await;
        assert_eq!(r.status_code(), 303, "{fields:?}: {}", r.text());
    }
    let looks: Vec<Value> = shop.events(&path).iter().filter(|e| e.kind == EventKind::Look).map(|e| e.body["look"].clone()).collect();
    let kinds: Vec<&str> = looks.iter().map(|l| l["reading"]["kind"].as_str().unwrap()).collect();
    assert_eq!(kinds, ["settle", "holds", "log", "swing", "settle"]);
    assert_eq!(looks[3]["trial"]["mass_g"], 20.0);
    assert_eq!(looks[4]["turned_on_arbor_deg"], 180.0);
    // The weight that holds it stands opposite the heavy side, at the ring.
    let settled = looks[0]["reading"]["settle_deg"].as_f64().unwrap();
    assert!((looks[1]["trial"]["at_deg"].as_f64().unwrap() - (settled + 180.0) % 360.0).abs() < 1e-9);
    assert_eq!(looks[1]["trial"]["radius_mm"], 38.0);
    // Once the rotor was turned, the arbor is told apart.
    let sat = Bench::new(shop.store.clone()).sat(&id(&path)).unwrap();
    assert!(sat.step.unwrap().estimate.unwrap().arbor_error.is_some());
    assert!(shop.server.get(&path).await.text().contains("rotor turned by 180° on the arbor"));
}

#[tokio::test]
async fn a_trial_weight_heavier_than_the_rotor_is_a_slip() {
    let shop = shop();
    let path = shop.sitting("adapter A", &[]).await;
    // The rotor weighs 2.4 kg.
    for (mass, status) in [("2500", 422), ("20", 303)] {
        let fields = [("kind", "holds"), ("bottom_deg", "90"), ("sd_g_mm", "2"), ("mass_g", mass), ("radius_mm", "38"), ("at_deg", "180")];
        let r = shop.act(&path, "look", &fields).await;
        assert_eq!(r.status_code(), status, "{mass}");
        if status == 422 {
            assert!(r.text().contains("holds-mass_g-fault"), "{}", r.text());
        }
    }
}

#[tokio::test]
async fn an_index_pair_typed_by_hand_is_kept_with_its_looks() {
    let shop = shop();
    let path = shop.sitting("adapter A", &[]).await;
    for (deg, turned) in [("100", ""), ("104", "180")] {
        let fields = [("kind", "settle"), ("settle_deg", deg), ("sd_deg", "2"), ("turned_on_arbor_deg", turned)];
        assert_eq!(shop.act(&path, "look", &fields).await.status_code(), 303);
    }
    assert_eq!(shop.events(&path)[1].body["look"]["turned_on_arbor_deg"], 180.0);
    let bad = shop.act(&path, "look", &[("kind", "settle"), ("settle_deg", "1"), ("sd_deg", "2"), ("turned_on_arbor_deg", "half")]).await;
    assert_eq!(bad.status_code(), 422);
    assert!(bad.text().contains("settle-turned_on_arbor_deg-fault"));
}

#[tokio::test]
async fn a_hole_that_must_stay_is_left_alone_by_the_proposal_and_by_the_rows() {
    let shop = shop();
    let ring = shop.store.list::<WeightRing>().unwrap().into_iter().find(|r| r.body.name.contains("adapter C")).unwrap();
    let address = format!("/records/rings/{}", ring.id);
    let form = |fixed: &'static str| {
        [
            ("revision", "1"),
            ("name", "24 tapped holes of adapter C"),
            ("radius_mm", "48"),
            ("kind", "tapped-holes"),
            ("holes", "24"),
            ("first_hole", "0"),
            ("fixed_holes", fixed),
            ("screw_1", "1.1"),
            ("count_1", "12"),
            ("screw_2", "4"),
            ("count_2", "12"),
        ]
    };
    let bad = shop.server.post(&address).form(&form("4, 99")).await;
    assert_eq!(bad.status_code(), 422);
    assert!(bad.text().contains("fixed_holes-fault"));
    assert_eq!(shop.server.post(&address).form(&form("4, 10")).await.status_code(), 303);
    assert!(shop.server.get(&address).await.text().contains("value=\"4, 10\""));

    // A screw of 4 g is peened into hole 4; hole 10 is spoilt.
    let path = shop.sitting("adapter C", &[("hole_0", "4"), ("screw_0", "1")]).await;
    let step = shop.looked_until_a_move(&path).await;
    assert!(!step.screw_changes.is_empty() && step.screw_changes.iter().all(|c| c.hole != 3 && c.hole != 9), "{:?}", step.screw_changes);
    let without = shop.act(&path, "screws", &[("hole_0", "5"), ("screw_0", "0")]).await;
    assert_eq!(without.status_code(), 422);
    assert!(without.text().contains("What is in this hole may not be changed"));
    assert_eq!(shop.act(&path, "screws", &[("hole_0", "4"), ("screw_0", "1"), ("hole_1", "5"), ("screw_1", "0")]).await.status_code(), 303);
}
