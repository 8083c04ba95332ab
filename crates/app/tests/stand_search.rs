//! The design search over HTTP: begun, watched without a script, stopped, and a design taken into the sheet.

use axum_test::{TestResponse, TestServer};
use std::sync::Arc;
use std::time::{Duration, Instant};
use stillwheel::sitting::Bench;
use stillwheel::web::{App, router};
use stillwheel_door::stand_sheet::read_sheet;
use stillwheel_store::{Stand, Store, Stored};

struct Shop {
    server: TestServer,
    store: Arc<Store>,
    path: String,
}

/// The demo's records, at this stand.
fn shop(stand: &str) -> Shop {
    let store = Arc::new(Store::open_in_memory().unwrap());
    let bench = Bench::new(store.clone());
    stillwheel::demo::records(&store, jiff::Timestamp::UNIX_EPOCH).unwrap();
    let id = store.list::<Stand>().unwrap().into_iter().find(|s| s.body.name == stand).unwrap().id;
    Shop { server: TestServer::new(router(App::new(bench, None, false))), store, path: format!("/stands/{id}") }
}

/// Two clearances, one length, one pressure, one port, two jets: what a page asks for when little is tried.
const SMALL: [(&str, &str); 17] = [
    ("most_flow_l_min", "6"),
    ("highest_floor_g_mm", "20"),
    ("least_stiffness_n_um", "0.2"),
    ("least_damping_ratio", "0.01"),
    ("lifts_by_itself", "yes"),
    ("clearance_held_um", "1"),
    ("clearance_um.from", "12"),
    ("clearance_um.to", "16"),
    ("clearance_um.count", "2"),
    ("length_mm.from", "24"),
    ("length_mm.to", "24"),
    ("length_mm.count", "1"),
    ("supply_bar.from", "4"),
    ("supply_bar.to", "4"),
    ("supply_bar.count", "1"),
    ("ports_mm", "1.2"),
    ("jets_mm", "0.15 0.2"),
];

fn with(changed: &[(&'static str, &'static str)]) -> Vec<(&'static str, &'static str)> {
    let mut form = SMALL.to_vec();
    for (name, value) in changed {
        form.iter_mut().find(|f| f.0 == *name).unwrap_or_else(|| panic!("no field {name}")).1 = value;
    }
    form
}

impl Shop {
    fn stand(&self) -> Stored<Stand> {
        self.store.get(&self.path.rsplit('/').next().unwrap().parse().unwrap()).unwrap()
    }

    /// Begin a search; back comes its address.
    async fn begin(&self, form: &[(&str, &str)]) -> String {
        let r = self.server.post(&format!("{}/search", self.path)).form(form).await;
        assert_eq!(r.status_code(), 303, "{}", r.text());
        r.header("location").to_str().unwrap().to_owned()
    }

    /// The page of a search once it has ended, as a browser without scripts gets it by loading it again.
    async fn ended(&self, at: &str) -> TestResponse {
        let started = Instant::now();
        loop {
            let r = self.server.get(at).await;
            assert_eq!(r.status_code(), 200, "{}", r.text());
            if !r.text().contains("http-equiv=\"refresh\"") {
                return r;
            }
            assert!(r.text().contains("<progress") && r.text().contains("Stop"), "{}", r.text());
            assert!(started.elapsed() < Duration::from_mins(4), "the search does not end");
            tokio::time::sleep(Duration::from_millis(100)).await;
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_search_goes_on_unwatched_and_its_design_becomes_a_new_revision_with_the_remarks_kept() {
    let shop = shop("Birch");
    let before = shop.stand();
    let at = shop.begin(&SMALL).await;
    let page = shop.ended(&at).await.text();
    for part in ["data-picture=\"trade-off\"", "Take this design", "proposed", "Lifts by itself from"] {
        assert!(page.contains(part), "{part}: {page}");
    }
    assert_eq!(shop.stand(), before, "nothing is kept unasked");
    assert_eq!(page.matches("type=\"radio\"").count(), page.matches("data-part=\"floor-design\"").count(), "each dot can be taken");

    // It is listed, and its form can be had again with what was typed.
    let form = shop.server.get(&format!("{}/search?from={}", shop.path, at.rsplit('/').next().unwrap())).await.text();
    assert!(form.contains(&at) && form.contains("value=\"0.15 0.2\"") && !form.contains("class=\"fault\""), "{form}");

    // No such design; then the first.
    let r = shop.server.post(&format!("{at}/take")).form(&[("design", "999")]).await;
    assert_eq!(r.status_code(), 422);
    assert_eq!(shop.stand(), before);
    let r = shop.server.post(&format!("{at}/take")).form(&[("design", "1")]).await;
    assert_eq!((r.status_code().as_u16(), r.header("location").to_str().unwrap()), (303, shop.path.as_str()));
    let after = shop.stand();
    assert_eq!(after.revision, before.revision + 1);
    let (old, new) = (read_sheet(&before.body.sheet_toml).unwrap(), read_sheet(&after.body.sheet_toml).unwrap());
    let (saddles, feed) = (new.saddles.as_ref().unwrap(), new.feed.as_ref().unwrap());
    assert!([12.0, 14.0, 16.0].contains(&saddles.radial_clearance_um), "one of the grid's, or half a step between");
    assert!([Some(0.15), Some(0.2)].contains(&feed.jet_diameter_mm) && feed.supply_bar == 4.0);
    assert_eq!((&new.arbor, &new.plate, &new.held), (&old.arbor, &old.plate, &old.held), "all else stays");
    let remarks = |t: &str| t.lines().filter_map(|l| l.split_once('#')).map(|l| l.1.to_owned()).collect::<Vec<_>>();
    assert_eq!(remarks(&after.body.sheet_toml), remarks(&before.body.sheet_toml));

    // The stand is another now: what the search began from is gone, and it overwrites nothing.
    let r = shop.server.post(&format!("{at}/take")).form(&[("design", "1")]).await;
    assert_eq!(r.status_code(), 422);
    assert!(r.text().contains("changed since this search began"), "{}", r.text());
    assert_eq!(shop.stand(), after);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_search_is_stopped_and_changes_nothing_and_no_third_begins_beside_two() {
    let shop = shop("Birch");
    let before = shop.stand();
    // Long enough to be met while it runs.
    let long = with(&[("clearance_um.count", "15"), ("supply_bar.from", "3"), ("supply_bar.to", "5"), ("supply_bar.count", "15")]);
    let (one, two) = (shop.begin(&long).await, shop.begin(&long).await);
    let third = shop.server.post(&format!("{}/search", shop.path)).form(&long).await;
    assert_eq!(third.status_code(), 422);
    assert!(third.text().contains("2 searches run already") && third.text().contains(&one), "{}", third.text());
    // A script is given the bar alone.
    let part = shop.server.get(&one).add_header("x-part", "state").await.text();
    assert!(part.contains("data-state=\"running\"") && !part.contains("<html"), "{part}");
    for at in [&one, &two] {
        assert_eq!(shop.server.post(&format!("{at}/stop")).await.status_code(), 303);
        assert!(shop.ended(at).await.text().contains("Stopped"));
        assert!(shop.server.get(at).add_header("x-part", "state").await.text().contains("data-state=\"ended\""));
        assert_eq!(shop.server.post(&format!("{at}/take")).form(&[("design", "1")]).await.status_code(), 422);
    }
    assert_eq!(shop.stand(), before);
}

#[tokio::test(flavor = "multi_thread")]
async fn when_nothing_fits_the_demand_to_relax_is_told_in_the_forms_words() {
    let shop = shop("Birch");
    let page = shop.ended(&shop.begin(&with(&[("most_flow_l_min", "0.05")])).await).await.text();
    assert!(page.contains("Nothing fits") && page.contains("Air for both saddles (l/min)") && page.contains("or more"), "{page}");
}

#[tokio::test]
async fn what_can_not_be_is_told_at_its_field_and_begins_nothing() {
    let shop = shop("Birch");
    for (name, value) in [
        ("clearance_um.from", "a few"),
        // From 12 to 10.
        ("clearance_um.to", "10"),
        ("supply_bar.count", "1.5"),
        ("length_mm.count", "1e9"),
        ("ports_mm", ""),
        ("jets_mm", "0.15 x"),
        // The smallest clearance tried is 12 µm.
        ("clearance_held_um", "12"),
        ("most_flow_l_min", "0"),
        ("highest_floor_g_mm", "-1"),
        ("least_stiffness_n_um", "inf"),
        ("least_damping_ratio", "0.6"),
    ] {
        let r = shop.server.post(&format!("{}/search", shop.path)).form(&with(&[(name, value)])).await;
        assert_eq!(r.status_code(), 422, "{name} {value}: {}", r.text());
        let page = r.text();
        assert!(page.contains(&format!("id=\"{name}-fault\"")), "{name} {value}: {page}");
        assert!(page.contains(&format!("name=\"{name}\" type=\"text\" value=\"{value}\"")), "{name} {value}: {page}");
        assert!(!page.contains("Searches for this stand"), "{name} {value}: one began");
    }
}

#[tokio::test]
async fn a_stand_without_saddles_says_so_and_an_unknown_search_is_not_here() {
    let ways = shop("Ways");
    assert!(ways.server.get(&format!("{}/search", ways.path)).await.text().contains("this stand has none"));
    assert_eq!(ways.server.post(&format!("{}/search", ways.path)).form(&SMALL).await.status_code(), 422);
    assert!(!ways.server.get(&ways.path).await.text().contains("Search a design"));
    let birch = shop("Birch");
    assert!(birch.server.get(&birch.path).await.text().contains("Search a design"));
    for way in ["", "/take", "/stop"] {
        let at = format!("{}/search/0123456789abcdef{way}", birch.path);
        let r = if way.is_empty() { birch.server.get(&at).await } else { birch.server.post(&at).form(&[("design", "1")]).await };
        assert_eq!(r.status_code(), 404, "{way}");
    }
}
