//! What a maker takes to the machines and brings back: parts, drawings, the pack, and what was measured.

use assert_cmd::Command;
use axum_test::{TestResponse, TestServer};
use serde_json::Value;
use std::collections::BTreeMap;
use std::io::Read;
use std::sync::Arc;
use stillwheel::sitting::Bench;
use stillwheel::web::{App, router};
use stillwheel_store::{Stand, Store, Stored};

struct Shop {
    server: TestServer,
    store: Arc<Store>,
    path: String,
}

/// The demo's records, at its stand of that name.
fn shop(name: &str) -> Shop {
    let store = Arc::new(Store::open_in_memory().unwrap());
    let bench = Bench::new(store.clone());
    stillwheel::demo::records(&store, jiff::Timestamp::UNIX_EPOCH).unwrap();
    let id = store.list::<Stand>().unwrap().into_iter().find(|s| s.body.name == name).unwrap().id;
    Shop { server: TestServer::new(router(App::new(bench, None, false))), store, path: format!("/stands/{id}") }
}

impl Shop {
    fn stand(&self) -> Stored<Stand> {
        self.store.get(&self.path.rsplit('/').next().unwrap().parse().unwrap()).unwrap()
    }

    async fn get(&self, way: &str) -> TestResponse {
        self.server.get(&format!("{}/{way}", self.path)).await
    }

    async fn measured(&self, piece: &str, form: &[(&str, &str)]) -> TestResponse {
        let revision = self.stand().revision.to_string();
        let form: Vec<(&str, &str)> = [("revision", revision.as_str())].into_iter().chain(form.iter().copied()).collect();
        self.server.post(&format!("{}/inspect/{piece}", self.path)).form(&form).await
    }
}

/// Files of a zip.
fn unpacked(bytes: &[u8]) -> BTreeMap<String, Vec<u8>> {
    let mut zip = zip::ZipArchive::new(std::io::Cursor::new(bytes)).unwrap();
    (0..zip.len())
        .map(|k| {
            let mut file = zip.by_index(k).unwrap();
            let mut bytes = Vec::new();
            file.read_to_end(&mut bytes).unwrap();
            (file.name().to_owned(), bytes)
        })
        .collect()
}

#[tokio::test]
async fn every_part_has_a_page_with_drawing_order_and_files() {
    let shop = shop("Birch");
    let list = shop.get("parts").await.text();
    for part in ["plate", "pillar", "collar", "saddle", "guide", "end-stop", "arbor", "foot", "jet"] {
        assert!(list.contains(&format!("{}/parts/{part}\"", shop.path)), "{part}");
        let page = shop.get(&format!("parts/{part}")).await;
        assert_eq!(page.status_code(), 200, "{part}");
        let page = page.text();
        assert!(page.contains("data-picture=\"part-drawing\"") && page.contains("! critical") && page.contains("Caution."), "{part}");
        for (file, mime, starts) in [
            ("a4.pdf", "application/pdf", &b"%PDF"[..]),
            ("drawing.dxf", "image/vnd.dxf", b"  0"),
            ("drawing.svg", "image/svg+xml", b"<svg"),
        ] {
            let r = shop.get(&format!("parts/{part}/{file}")).await;
            assert_eq!((r.status_code().as_u16(), r.header("content-type").to_str().unwrap()), (200, mime), "{part} {file}");
            assert!(r.as_bytes().starts_with(starts), "{part} {file}");
        }
    }
    for missing in
        ["parts/wheel", "parts/o-ring", "parts/plate/a5.pdf", "parts/plate/plate", "pack/a5.zip", "inspect/plate/2", "inspect/saddle/0"]
    {
        assert_eq!(shop.get(missing).await.status_code(), 404, "{missing}");
    }
}

#[tokio::test]
async fn the_pack_holds_all_that_the_shop_needs_and_is_the_same_twice() {
    let shop = shop("Birch");
    let r = shop.get("pack/a4.zip").await;
    assert_eq!(r.status_code(), 200);
    let files = unpacked(r.as_bytes());
    for name in [
        "read-me.txt",
        "stand.toml",
        "parts.csv",
        "dimensions.csv",
        "holes.csv",
        "process.csv",
        "pdf/00-assembly.pdf",
        "dxf/01-plate.dxf",
        "pdf/04-saddle.pdf",
    ] {
        assert!(files.contains_key(name), "{name} is not among {:?}", files.keys());
    }
    assert_eq!(files["stand.toml"], shop.stand().body.sheet_toml.as_bytes());
    // Eight holes for the pillars' screws at ±24 mm about (160, 35) and (160, 145), by hand.
    let holes = String::from_utf8(files["holes.csv"].clone()).unwrap();
    for place in ["136.000,11.000", "184.000,59.000", "136.000,121.000", "184.000,169.000", "160.000,160.000"] {
        assert!(holes.lines().any(|l| l.starts_with("base plate,") && l.contains(place)), "{place}\n{holes}");
    }
    let dimensions = String::from_utf8(files["dimensions.csv"].clone()).unwrap();
    // ISO 286: 44 H8 is +39/0 µm.
    assert!(dimensions.contains("pillar,bore for the saddle,diameter,44.0000,44.0000,44.0390,H8,"), "{dimensions}");
    assert!(String::from_utf8(files["read-me.txt"].clone()).unwrap().contains("drives each saddle upwards"));
    assert_eq!(shop.get("pack/a4.zip").await.as_bytes(), r.as_bytes());
}

#[tokio::test]
async fn a_stand_that_can_not_be_made_says_what_to_change() {
    // Ways have no saddles; a plate too narrow has no room for the pillars.
    let ways = shop("Ways").get("parts").await;
    assert_eq!(ways.status_code(), 422);
    assert!(ways.text().contains("parts are worked out for air saddles"));
    let shop = shop("Birch");
    let stand = shop.stand();
    let narrow = Stand { sheet_toml: stand.body.sheet_toml.replace("width_mm = 180.0", "width_mm = 165.0"), ..stand.body };
    shop.store
        .revise(&stand.id, stand.revision, &narrow, &stillwheel_store::By { who: "Ada".into(), at: jiff::Timestamp::UNIX_EPOCH })
        .unwrap();
    for way in ["parts", "parts/plate", "inspect"] {
        let r = shop.get(way).await;
        assert_eq!(r.status_code(), 422, "{way}");
        assert!(r.text().contains("plate.width_mm"), "{way}");
    }
    assert_eq!(shop.get("pack/a4.zip").await.status_code(), 422);
}

#[tokio::test]
async fn readings_are_kept_and_judged_in_words() {
    let shop = shop("Birch");
    // The bore Ø 20.028 ± 0.003 with a gauge of ± 1 µm (ISO 14253-1): 20.029 lies inside by more than that, 20.030 within 1 µm of the limit
    // (2 µm below it: inside), 20.0305 can't be told, 20.034 is out by 3 µm.
    for (reading, verdict, so_far) in [
        ("20.029", "✓ conforms", "✓ good so far"),
        ("20.0305", "? can’t be told with this gauge", "? can’t be told with this gauge"),
        ("20.034", "✗ does not conform", "✗ does not conform"),
    ] {
        let r = shop.measured("saddle/1", &[("bore.diameter", reading), ("bore.diameter.u", "1")]).await;
        assert_eq!(r.status_code(), 303, "{reading}: {}", r.text());
        let page = shop.get("inspect/saddle/1").await.text();
        assert!(page.contains(verdict), "{reading}: {page}");
        assert!(shop.get("inspect").await.text().contains(so_far), "{reading}");
    }
    let kept = shop.stand().body.as_made.unwrap();
    assert_eq!(kept["saddle/1/bore.diameter"]["mm"].as_f64(), Some(20.034));
    // The other piece is another's.
    let r = shop
        .measured("saddle/2", &[("bore.diameter", "20.028"), ("bore.diameter.u", "1"), ("port#position", "-20"), ("port#position.u", "5")])
        .await;
    assert_eq!(r.status_code(), 303);
    let kept = shop.stand().body.as_made.unwrap();
    assert_eq!((kept["saddle/1/bore.diameter"]["mm"].as_f64(), kept["saddle/2/port#position"]["um"].as_f64()), (Some(20.034), Some(-20.0)));
    // Emptied, it is not measured any more.
    shop.measured("saddle/1", &[]).await;
    assert!(shop.stand().body.as_made.unwrap().get("saddle/1/bore.diameter").is_none());
}

#[tokio::test]
async fn a_reading_in_inches_or_with_a_slipped_point_is_asked_about_and_stays_typed() {
    let shop = shop("Birch");
    for (reading, asks) in [("0.78850", "inches"), ("2.0029", "decimal point"), ("twenty", ""), ("NaN", "")] {
        let r = shop.measured("saddle/1", &[("bore.diameter", reading), ("bore.diameter.u", "1")]).await;
        assert_eq!(r.status_code(), 422, "{reading}");
        let page = r.text();
        assert!(page.contains(asks) && page.contains(&format!("value=\"{reading}\"")), "{reading}: {page}");
        assert!(page.contains("aria-invalid=\"true\""), "{reading}");
    }
    assert_eq!(shop.stand().body.as_made, None);
    // With its unit it is understood.
    let r = shop.measured("saddle/1", &[("bore.diameter", "0.7885 in"), ("bore.diameter.u", "1")]).await;
    assert_eq!(r.status_code(), 303);
}

fn run(args: &[&str]) -> (i32, String, String) {
    let out = Command::cargo_bin("stillwheel").unwrap().args(args).output().unwrap();
    (out.status.code().unwrap(), String::from_utf8(out.stdout).unwrap(), String::from_utf8(out.stderr).unwrap())
}

#[test]
fn the_command_line_lists_draws_and_packs() {
    let sheet = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/stand-birch.toml");
    let (code, out, err) = run(&["parts", sheet]);
    assert_eq!((code, err.as_str()), (0, ""));
    for words in ["base plate", "flat 184 × 28 × 324", "O-ring", "Caution:"] {
        assert!(out.contains(words), "{words} in {out}");
    }
    let (_, json, _) = run(&["parts", sheet, "--json"]);
    let by_door = stillwheel_door::find("parts").unwrap();
    assert_eq!(serde_json::from_str::<Value>(&json).unwrap(), by_door.run((by_door.example)()).unwrap());

    let folder = tempfile::tempdir().unwrap();
    let drawings = folder.path().join("drawings");
    let (code, out, _) =
        run(&["drawings", sheet, "--out", drawings.to_str().unwrap(), "--page", "letter", "--projection", "third", "--date", "2026-03-02"]);
    assert!(code == 0 && out.starts_with("10 drawings"), "{out}");
    assert_eq!(std::fs::read_dir(&drawings).unwrap().count(), 30);
    assert!(std::fs::read_to_string(drawings.join("02-pillar.svg")).unwrap().contains("third angle"));

    let zip = folder.path().join("birch.zip");
    let (code, _, err) = run(&["pack", sheet, "--out", zip.to_str().unwrap()]);
    assert_eq!((code, err.as_str()), (0, ""));
    assert!(unpacked(&std::fs::read(&zip).unwrap()).contains_key("dxf/03-collar.dxf"));
    let (code, _, err) = run(&["pack", sheet, "--out", folder.path().join("birch.txt").to_str().unwrap()]);
    assert!(code == 1 && err.contains(".zip"), "{err}");
    let ways = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/stand-ways.toml");
    let (code, _, err) = run(&["parts", ways]);
    assert!(code == 2 && err.contains("air saddles"), "{err}");
}
