//! A rotor's page over a played season, its certificate and label on paper, and search; the numbers on the page are those of the records.

use axum_test::TestServer;
use serde_json::json;
use std::process::Command;
use std::sync::{Arc, OnceLock};
use stillwheel::demo::{OPENED, play_season, records};
use stillwheel::sitting::{Bench, RotorHistory};
use stillwheel::web::{App, router};
use stillwheel_store::{EventKind, Export, Id, Rotor, Store};

/// The season is played once for all tests.
fn season() -> Arc<Store> {
    static PLAYED: OnceLock<Export> = OnceLock::new();
    let export = PLAYED.get_or_init(|| {
        let bench = Bench::new(Arc::new(Store::open_in_memory().unwrap()));
        let mut fernhill = records(bench.store(), OPENED.parse().unwrap()).unwrap();
        play_season(&bench, &mut fernhill).unwrap();
        bench.store().export().unwrap()
    });
    let store = Arc::new(Store::open_in_memory().unwrap());
    store.import(export).unwrap();
    store
}

fn pages(store: &Arc<Store>) -> TestServer {
    TestServer::new(router(App::new(Bench::new(store.clone()), None, false)))
}

fn wheel_a(store: &Store) -> Id {
    store.list::<Rotor>().unwrap().into_iter().find(|r| r.body.name.ends_with('A')).unwrap().id
}

fn history(store: &Arc<Store>) -> RotorHistory {
    Bench::new(store.clone()).rotor_history(&wheel_a(store)).unwrap()
}

#[tokio::test]
async fn the_page_tells_every_sitting_with_its_diameter_its_moves_and_who_made_them() {
    let store = season();
    let (id, history) = (wheel_a(&store), history(&store));
    let page = pages(&store).get(&format!("/rotors/{id}")).await.text();
    assert_eq!(history.chapters.len(), store.sittings(Some(&id)).unwrap().len());
    for chapter in &history.chapters {
        assert!(page.contains(&format!("/sittings/{}\"", chapter.sitting.id)));
        assert!(page.contains(&format!("{} mm", chapter.sitting.start.rotor.body.wheel.diameter_mm)));
    }
    let moves: usize = history.chapters.iter().map(|c| c.moves.len()).sum();
    assert!(moves > 3);
    assert_eq!(page.matches("Weights moved:").count(), moves);
    assert!(page.contains("· Wren") && page.contains("· Hale"));
    let found = history.found().count();
    assert_eq!(page.matches("data-part=\"found\"").count(), found);
    assert_eq!(page.matches("data-part=\"region\"").count(), found);
}

/// The rule of docs/physics.md worked out here from the records by itself.
#[tokio::test]
async fn what_is_expected_follows_the_stated_rule_and_a_change_can_be_left_out() {
    let store = season();
    let history = history(&store);
    let vectors: Vec<([f64; 2], Id)> =
        history.found().map(|(_, c, e)| ([e.unbalance.x_g_mm, e.unbalance.y_g_mm], c.sitting.id.clone())).collect();
    let changes: Vec<[f64; 2]> = vectors.windows(2).map(|w| [w[1].0[0] - w[0].0[0], w[1].0[1] - w[0].0[1]]).collect();
    let bound = |changes: &[[f64; 2]]| {
        let q: f64 = changes.iter().map(|c| c[0] * c[0] + c[1] * c[1]).sum();
        (q * (0.05_f64.powf(-1.0 / changes.len() as f64) - 1.0)).sqrt()
    };
    let all = history.expected(&[]).unwrap();
    assert_eq!(all.changes, changes.len());
    assert!((all.change_95_g_mm / bound(&changes) - 1.0).abs() < 1e-9);
    // The wheel was seated anew before the second sitting: by far the largest change.
    let seated = history.expected(std::slice::from_ref(&vectors[1].1)).unwrap();
    assert!((seated.change_95_g_mm / bound(&changes[1..]) - 1.0).abs() < 1e-9);
    let page = |query: String| {
        let (server, id) = (pages(&store), history.rotor.id.clone());
        async move { server.get(&format!("/rotors/{id}{query}")).await.text() }
    };
    let plain = page(String::new()).await;
    assert!(plain.contains(&format!("{} changes from sitting to sitting", changes.len())), "{plain}");
    let without = page(format!("?without={}", vectors[1].1)).await;
    assert!(
        without.contains(&format!("{} changes from sitting to sitting", changes.len() - 1)) && without.contains("Count its change again")
    );
    // With all but two left out, it says that it can't be told.
    let ids: Vec<&str> = vectors[1..vectors.len() - 2].iter().map(|v| v.1.as_str()).collect();
    let few = page(format!("?without={}", ids.join(","))).await;
    assert!(few.contains("can’t be told yet") && few.contains("there are 2"), "{few}");
}

#[tokio::test]
async fn two_sittings_tell_the_wheel_from_adapter_and_arbor_by_the_form_of_the_page() {
    let store = season();
    let history = history(&store);
    let (first, second) = (&history.chapters[0].sitting.id, &history.chapters[1].sitting.id);
    let (e1, e2) = (history.chapters[0].estimate().unwrap(), history.chapters[1].estimate().unwrap());
    let out = history.split(first, second, 180.0).unwrap();
    // Half the difference and half the sum.
    assert!((out.wheel.x_g_mm - 0.5 * (e1.unbalance.x_g_mm - e2.unbalance.x_g_mm)).abs() < 1e-9);
    assert!((out.rest.y_g_mm - 0.5 * (e1.unbalance.y_g_mm + e2.unbalance.y_g_mm)).abs() < 1e-9);
    let server = pages(&store);
    let path = format!("/rotors/{}", history.rotor.id);
    let page = server.get(&format!("{path}?first={first}&second={second}&turned=180")).await.text();
    assert!(page.contains("In adapter and arbor") && page.contains(&format!("value=\"{second}\" selected")), "{page}");
    for (query, say) in [
        (format!("first={first}&second={second}&turned=5"), "turn the wheel by half a turn"),
        (format!("first={first}&second={first}&turned=180"), "choose the one after the wheel was turned"),
        (format!("first={first}&second={second}&turned=left"), "id=\"split-turned-fault\""),
        (format!("first=&second={second}&turned=180"), "Choose a sitting"),
        (format!("first={first}&second=0000000000000000&turned=180"), "it has told no unbalance"),
    ] {
        let answer = server.get(&format!("{path}?{query}")).await;
        assert_eq!(answer.status_code(), 200);
        assert!(answer.text().contains(say) && !answer.text().contains("In adapter and arbor"), "{query}");
    }
}

fn poppler(tool: &str, arguments: &[&str]) -> String {
    let out = Command::new(tool).args(arguments).output();
    let out = out.unwrap_or_else(|e| panic!("{tool} could not be run ({e}): install the package poppler-utils"));
    assert!(out.status.success(), "{tool} {arguments:?}: {}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8_lossy(&out.stdout).into_owned()
}

#[tokio::test]
async fn each_certificate_of_the_season_is_one_page_and_says_what_it_rests_on() {
    let store = season();
    // One stand was measured; its sittings begin with that record, so one more is needed for the words.
    let server = pages(&store);
    let folder = tempfile::tempdir().unwrap();
    for sitting in store.sittings(None).unwrap() {
        for page in ["a4", "letter"] {
            let answer = server.get(&format!("/sittings/{}/certificate/{page}.pdf", sitting.id)).await;
            assert_eq!((answer.status_code().as_u16(), answer.header("content-type").to_str().unwrap()), (200, "application/pdf"));
            let file = folder.path().join("certificate.pdf");
            std::fs::write(&file, answer.as_bytes()).unwrap();
            let file = file.to_str().unwrap();
            assert!(poppler("pdfinfo", &[file]).lines().any(|l| l.starts_with("Pages:") && l.ends_with(" 1")));
            let said = poppler("pdftotext", &["-layout", file, "-"]);
            let verdict = sitting.verdict.as_ref().unwrap();
            let proven = verdict["proven"] == json!(true);
            let result = if proven { "within the allowance" } else { "Not proven" };
            for words in [
                result,
                "Practice on the virtual stand",
                "Allowance",
                "Floor of stand",
                "Qualification",
                "Looks and moves",
                "Date, signature",
                &sitting.operator,
                sitting.id.as_str(),
            ] {
                assert!(said.contains(words), "{words:?} is missing in {said}");
            }
            // A floor above the allowance ends a sitting before its first look.
            let looked = store.events(&sitting.id).unwrap().iter().any(|e| e.kind == EventKind::Look);
            assert_eq!(said.contains("1. "), looked, "{said}");
            if proven {
                assert!(said.contains('±') && said.contains("95 % sure below"), "{said}");
            }
        }
    }
    let open = server.post("/sittings").form(&[("quick", "yes"), ("stand", "virtual")]).await;
    let path = open.header("location").to_str().unwrap().to_owned();
    assert_eq!(server.get(&format!("{path}/certificate/a4.pdf")).await.status_code(), 404, "no verdict, no certificate");
    let id = &store.sittings(None).unwrap()[1].id;
    for file in ["a5.pdf", "a4.exe", "a4", "..%2Fa4.pdf"] {
        assert_eq!(server.get(&format!("/sittings/{id}/certificate/{file}")).await.status_code(), 404, "{file}");
    }
}

#[tokio::test]
async fn a_label_leads_to_the_rotors_page() {
    let store = season();
    let (server, id) = (pages(&store), wheel_a(&store));
    let svg = server.get(&format!("/rotors/{id}/label/a4.svg")).await.text();
    assert!(svg.contains(&format!("/rotors/{id}.")) && svg.contains("46 grit"), "the words say where the code leads");
    let pdf = server.get(&format!("/rotors/{id}/label/letter.pdf")).await;
    assert!(pdf.as_bytes().starts_with(b"%PDF"));
    assert_eq!(server.get("/rotors/0000000000000000/label/a4.pdf").await.status_code(), 404);
}

#[tokio::test]
async fn search_finds_all_words_anywhere_and_shows_what_was_typed_as_text() {
    let store = season();
    let server = pages(&store);
    let find = |q: &'static str| {
        let get = server.get("/search").add_query_param("q", q);
        async move { get.await.text() }
    };
    for (asked, count, says) in [
        ("adapter a", None, "46 grit 200 mm on adapter A"),
        ("BELT marks gone", Some(1), "60 grit 300 mm on adapter B"),
        ("Larch", None, "Larch"),
        ("nothing of the kind", Some(0), "Nothing was found"),
        ("\"><script>alert(1)</script>", Some(0), "&lt;script&gt;"),
    ] {
        let page = find(asked).await;
        assert!(page.contains(says) && !page.contains("<script>alert"), "{asked}: {page}");
        match count {
            Some(0) => assert!(page.contains("Nothing was found")),
            Some(n) => assert!(page.contains(&format!("{n} found for")), "{asked}: {page}"),
            None => assert!(!page.contains("Nothing was found")),
        }
    }
    assert!(!server.get("/search").await.text().contains("found for"));
    let long = "x".repeat(5000);
    assert_eq!(server.get("/search").add_query_param("q", &long).await.status_code(), 200);
}
