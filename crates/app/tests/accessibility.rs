//! All pages before an outside checker of accessibility (axe-core) in a real browser: phone and desk, light and dark, no violation. And each
//! control is reached by the tab key alone.
//!
//! The checker is not part of this repository: `.ci/run` fetches it. Without it the test fails and says so.

mod chromium;
mod common;

use chromium::{DESK, PHONE, browser, serve};
use common::routes;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use stillwheel::demo::{OPENED, play_season, records};
use stillwheel::sitting::Bench;
use stillwheel::web::App;
use stillwheel_store::{Id, Machine, RingKind, Store, WeightRing};
use thirtyfour::prelude::*;

/// Rules of WCAG 2.2 level A and AA, and the checker's own best practices.
const RULES: [&str; 6] = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];

fn checker() -> String {
    let file = std::env::var_os("STILLWHEEL_AXE")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../../target/axe/package/axe.min.js"), PathBuf::from);
    std::fs::read_to_string(&file).unwrap_or_else(|e| {
        panic!(
            "the accessibility checker is missing ({}: {e}). Fetch it once by `.ci/run`, or: mkdir -p target/axe && \
             npm pack --pack-destination target/axe axe-core@4.14.1 && tar -xzf target/axe/axe-core-4.14.1.tgz -C target/axe",
            file.display()
        )
    })
}

/// A shop with a season behind it, and a sitting on the stand with a look.
struct Shop {
    store: Arc<Store>,
    open: Id,
    address: String,
    folder: tempfile::TempDir,
}

impl Shop {
    async fn open() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let store = Arc::new(Store::open(folder.path().join("records.db")).unwrap());
        let bench = Bench::new(store.clone());
        let mut fernhill = records(&store, OPENED.parse().unwrap()).unwrap();
        play_season(&bench, &mut fernhill).unwrap();
        let address = serve(App::new(bench, Some("12345678".into()), false)).await.to_string();
        let post = |path: String, form: Vec<(&'static str, &'static str)>| {
            let address = address.clone();
            tokio::task::spawn_blocking(move || common::post(&address, &path, &form).unwrap())
        };
        let begun = post("/sittings".into(), vec![("quick", "yes"), ("stand", "virtual"), ("operator", "Ada")]).await.unwrap().location();
        let look = [("token", "a"), ("after_seq", "0"), ("kind", "settle"), ("settle_deg", "135"), ("sd_deg", "3.5")];
        post(format!("{begun}/look"), look.to_vec()).await.unwrap().location();
        post("/records/backups".into(), vec![]).await.unwrap();
        let open = begun.rsplit('/').next().unwrap().parse().unwrap();
        Self { store, open, address, folder }
    }

    /// Every page that the program has: the route table, and what it can't tell by itself.
    fn pages(&self) -> Vec<String> {
        let sittings = self.store.sittings(None).unwrap();
        let closed = sittings.iter().find(|s| s.closed).unwrap().id.clone();
        let with_log = sittings.iter().find_map(|s| {
            let event = self.store.events(&s.id).unwrap().into_iter().find(|e| e.body.get("log").is_some())?;
            Some(format!("/sittings/{}/log/{}", s.id, event.seq))
        });
        let ring = |holes: bool| {
            let all = self.store.list::<WeightRing>().unwrap();
            all.into_iter().find(|r| matches!(r.body.kind, RingKind::TappedHoles(_)) == holes).unwrap().id
        };
        let machine = self.store.list::<Machine>().unwrap()[0].id.clone();
        let mut pages = routes("get(", &self.store, &self.open);
        pages.retain(|p| !p.starts_with("/api/") && !p.starts_with("/assets/") && !p.contains("a4.pdf") && !p.ends_with("/live"));
        pages.retain(|p| !p.ends_with("/export") && !p.ends_with("sheet.toml") && !p.ends_with("/log/1") && !p.ends_with("/restore"));
        pages.extend([
            format!("/sittings/{closed}"),
            format!("/sittings/{closed}/certificate"),
            format!("/records/rings/{}", ring(false)),
            format!("/records/rings/{}", ring(true)),
            format!("/records/machines/{machine}"),
            "/search?q=adapter".into(),
            "/no/such/page".into(),
        ]);
        pages.extend(with_log);
        assert!(pages.len() >= 25, "{pages:?}");
        pages
    }
}

/// What the checker finds wrong on the page that is shown: rule, why, where.
async fn violations(web: &WebDriver, checker: &str) -> Vec<String> {
    web.execute(format!("{checker}; return typeof axe"), vec![]).await.unwrap();
    let script = "const [rules, done] = arguments; axe.run(document, {runOnly: {type: 'tag', values: rules}, resultTypes: ['violations']})\
        .then(r => done(r.violations.map(v => [v.id, v.help, v.nodes.map(n => n.target.join(' ') + ' ' + n.html.slice(0, 160) + ' :: ' + n.failureSummary)])), e => done([['error', String(e), []]]))";
    let found = web.execute_async(script, vec![json!(RULES)]).await.unwrap();
    let rows: Vec<(String, String, Vec<String>)> = found.convert().unwrap();
    rows.into_iter().map(|(rule, help, nodes)| format!("{rule}: {help}\n    {}", nodes.join("\n    "))).collect()
}

async fn check_all(size: [u32; 2]) {
    let shop = Shop::open().await;
    let checker = checker();
    let mut wrong = Vec::new();
    let mut checked = 0;
    for (scheme, setting) in [("light", "1"), ("dark", "0")] {
        let profile = shop.folder.path().join(scheme);
        let (_driver, web) = browser(size, &profile, &[&format!("--blink-settings=preferredColorScheme={setting}")]).await;
        for page in shop.pages() {
            web.goto(format!("http://{}{page}", shop.address)).await.unwrap();
            let query = format!("return matchMedia('(prefers-color-scheme: {scheme})').matches");
            let so: bool = web.execute(query, vec![]).await.unwrap().convert().unwrap();
            assert!(so, "the browser does not show {scheme} pages");
            // What is folded is checked too.
            web.execute("document.querySelectorAll('details').forEach(d => d.open = true)", vec![]).await.unwrap();
            checked += 1;
            wrong.extend(violations(&web, &checker).await.into_iter().map(|v| format!("{page} ({scheme}): {v}")));
        }
        web.quit().await.unwrap();
    }
    println!("{checked} pages checked at {} × {}", size[0], size[1]);
    assert!(wrong.is_empty(), "{} violations:\n{}", wrong.len(), wrong.join("\n"));
}

#[tokio::test(flavor = "multi_thread")]
async fn no_page_on_a_phone_violates_a_rule_light_or_dark() {
    check_all(PHONE).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn no_page_at_the_desk_violates_a_rule_light_or_dark() {
    check_all(DESK).await;
}

/// The checker itself works: a page with a known fault is found out.
#[tokio::test(flavor = "multi_thread")]
async fn a_page_without_labels_is_found_out() {
    let shop = Shop::open().await;
    let (_driver, web) = browser(DESK, &shop.folder.path().join("profile"), &[]).await;
    web.goto(format!("http://{}/settings", shop.address)).await.unwrap();
    web.execute("document.querySelectorAll('label').forEach(l => l.replaceWith(...l.querySelectorAll('input')))", vec![]).await.unwrap();
    let found = violations(&web, &checker()).await;
    web.quit().await.unwrap();
    assert!(found.iter().any(|v| v.starts_with("label:")), "{found:?}");
}

/// What can be pressed or typed into, in the order of the page; of radio buttons of one name the first only, as the tab key does.
const CONTROLS: &str = "
    const shown = e => e.checkVisibility({visibilityProperty: true}) && e.tabIndex >= 0 && !e.disabled;
    const all = [...document.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea, summary')].filter(shown);
    const names = new Set();
    const kept = all.filter(e => e.type !== 'radio' || !names.has(e.name) && names.add(e.name));
    kept.forEach((e, i) => e.dataset.order = i);
    return kept.length";
const FOCUSED: &str = "
    const e = document.activeElement;
    const ring = getComputedStyle(e).outlineStyle !== 'none' || getComputedStyle(e).boxShadow !== 'none';
    const group = e.type === 'radio' ? document.querySelector(`input[type=radio][name='${e.name}'][data-order]`) : e;
    return [group?.dataset.order ?? null, ring, e.outerHTML.slice(0, 120)]";

#[tokio::test(flavor = "multi_thread")]
async fn the_tab_key_reaches_every_control_and_shows_where_it_is() {
    let shop = Shop::open().await;
    let (_driver, web) = browser(DESK, &shop.folder.path().join("profile"), &[]).await;
    let rotor = shop.store.list::<stillwheel_store::Rotor>().unwrap()[0].id.clone();
    for page in [
        "/".to_owned(),
        "/sittings/new".into(),
        format!("/sittings/{}", shop.open),
        format!("/rotors/{rotor}"),
        "/records".into(),
        "/records/backups".into(),
        "/devices".into(),
        "/settings".into(),
    ] {
        web.goto(format!("http://{}{page}", shop.address)).await.unwrap();
        let controls: usize = web.execute(CONTROLS, vec![]).await.unwrap().convert().unwrap();
        assert!(controls > 5, "{page}");
        let mut reached = std::collections::BTreeSet::new();
        for _ in 0..controls + 40 {
            web.action_chain().send_keys(Key::Tab).perform().await.unwrap();
            let (order, ring, html): (Option<String>, bool, Value) = web.execute(FOCUSED, vec![]).await.unwrap().convert().unwrap();
            if let Some(order) = order {
                assert!(ring, "{page}: nothing shows that this has the focus: {html}");
                reached.insert(order.parse::<usize>().unwrap());
            }
            if reached.len() == controls {
                break;
            }
        }
        let missing: Vec<usize> = (0..controls).filter(|i| !reached.contains(i)).collect();
        assert!(missing.is_empty(), "{page}: the tab key does not reach {missing:?} of {controls}");
    }
    web.quit().await.unwrap();
}
