//! A person with a phone, played by a browser: from the demo's first page to a certificate.

mod chromium;

use chromium::{Driver, PHONE, browser, serve};
use std::sync::Arc;
use stillwheel::sitting::Bench;
use stillwheel::web::App;
use stillwheel_store::Store;
use thirtyfour::prelude::*;

/// Least size of what a thumb must hit, CSS px.
const THUMB_PX: f64 = 48.0;

/// The demo's records without a past, on a phone that shows the first page.
struct Shop {
    store: Arc<Store>,
    web: WebDriver,
    _driver: Driver,
    _folder: tempfile::TempDir,
}

impl Shop {
    async fn open() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let store = Arc::new(Store::open(folder.path().join("records.db")).unwrap());
        stillwheel::demo::records(&store, jiff::Timestamp::now()).unwrap();
        let address = serve(App::new(Bench::new(store.clone()), None, true)).await;
        let (driver, web) = browser(PHONE, &folder.path().join("profile"), &[]).await;
        web.goto(format!("http://{address}/")).await.unwrap();
        Self { store, web, _driver: driver, _folder: folder }
    }
}

/// Press a button that loads another page, and wait for that page.
async fn press(web: &WebDriver, button: &WebElement) {
    let page = web.find(By::Tag("html")).await.unwrap();
    button.click().await.unwrap();
    page.wait_until().stale().await.unwrap();
}

/// Nothing sticks out at the side, and the main buttons are large enough.
async fn fits_a_phone(web: &WebDriver) {
    let width: f64 = web.execute("return document.documentElement.scrollWidth", vec![]).await.unwrap().convert().unwrap();
    assert!(width <= 390.0, "the page is {width} px wide at {}", web.current_url().await.unwrap());
    for button in web.find_all(By::Css("button, .button, summary, nav a")).await.unwrap() {
        if button.is_displayed().await.unwrap() {
            let r = button.rect().await.unwrap();
            assert!(r.height >= THUMB_PX && r.width >= THUMB_PX, "{} × {} px: {}", r.width, r.height, button.text().await.unwrap());
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_newcomer_gets_from_the_demo_to_a_certificate_by_the_advised_buttons_alone() {
    let Shop { store, web, .. } = &Shop::open().await;
    fits_a_phone(web).await;
    press(web, &web.find(By::Css("main button.main")).await.unwrap()).await;
    let mut pressed = Vec::new();
    while !web.current_url().await.unwrap().path().ends_with("/certificate") {
        assert!(pressed.len() < 30, "no certificate after {pressed:?}");
        fits_a_phone(web).await;
        let advised = web.find(By::Css(".now button.main, .now a.main")).await.unwrap();
        pressed.push(advised.text().await.unwrap());
        press(web, &advised).await;
    }
    let sheet = web.find(By::Css(".sheet")).await.unwrap().text().await.unwrap();
    assert!(sheet.contains("Residual unbalance within the allowance"), "{sheet}");
    let kept = store.sittings(None).unwrap();
    assert!(kept[0].closed && kept[0].verdict.as_ref().is_some_and(|v| v["proven"] == true));
    web.clone().quit().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_settle_angle_is_entered_by_turning_the_picture_with_the_keys() {
    let Shop { store, web, .. } = &Shop::open().await;
    press(web, &web.find(By::Css("main button.main")).await.unwrap()).await;
    for fold in ["#looks > details > summary", "#look-settle > summary"] {
        let summary = web.find(By::Css(fold)).await.unwrap();
        if summary.find(By::XPath("parent::details[@open]")).await.is_err() {
            summary.click().await.unwrap();
        }
    }
    // The picture starts with the zero mark on top, 180° at the bottom; page-up turns it by 10° counter-clockwise.
    let wheel = web.query(By::Css("#look-settle .drag svg[role=slider]")).first().await.unwrap();
    for _ in 0..4 {
        wheel.send_keys(Key::PageUp + "").await.unwrap();
    }
    let angle = web.find(By::Id("settle-settle_deg")).await.unwrap();
    assert_eq!(angle.prop("value").await.unwrap().as_deref(), Some("140"));
    press(web, &web.find(By::Css("#look-settle button.main")).await.unwrap()).await;
    let id = store.sittings(None).unwrap()[0].id.clone();
    assert_eq!(store.events(&id).unwrap()[0].body["look"]["reading"]["settle_deg"], 140.0);
    web.clone().quit().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn the_pages_of_records_fit_a_phone_and_the_enter_key_keeps_a_rotor() {
    let Shop { store, web, .. } = &Shop::open().await;
    let first = web.current_url().await.unwrap();
    for page in ["/rotors", "/records", "/records/rings/new", "/records/rotors/new"] {
        web.goto(first.join(page).unwrap().to_string()).await.unwrap();
        fits_a_phone(web).await;
    }
    let rotor = store.list::<stillwheel_store::Rotor>().unwrap()[0].clone();
    web.goto(first.join(&format!("/records/rotors/{}", rotor.id)).unwrap().to_string()).await.unwrap();
    // Worked out from the bodies: the fields above are filled in, nothing is stored.
    let fold = web.query(By::XPath("//summary[contains(., 'Work out')]")).first().await.unwrap();
    fold.click().await.unwrap();
    web.find(By::Name("body_density_1")).await.unwrap().send_keys("2.1").await.unwrap();
    press(web, &web.find(By::Css("button[value=bodies]")).await.unwrap()).await;
    fits_a_phone(web).await;
    // A ring of Ø 200/51 × 20 mm at 2.1 g/cm³: I = π/32·ρ·w·(D⁴ − d⁴) = 0.00657 kg·m².
    let expected = std::f64::consts::PI / 32.0 * 2100.0 * 0.02 * (0.2_f64.powi(4) - 0.051_f64.powi(4));
    let inertia = web.find(By::Name("inertia_kg_m2")).await.unwrap();
    let got: f64 = inertia.prop("value").await.unwrap().unwrap().parse().unwrap();
    assert!((got / expected - 1.0).abs() < 1e-4, "{got} against {expected}");
    assert_eq!(store.list::<stillwheel_store::Rotor>().unwrap()[0].revision, rotor.revision);
    // The enter key keeps; it does not press the nearest button.
    let page = web.find(By::Tag("html")).await.unwrap();
    inertia.send_keys(Key::Enter + "").await.unwrap();
    page.wait_until().stale().await.unwrap();
    assert_eq!(web.current_url().await.unwrap().path(), "/rotors");
    let kept = store.list::<stillwheel_store::Rotor>().unwrap().into_iter().find(|r| r.id == rotor.id).unwrap();
    assert!((kept.body.inertia_kg_m2 / expected - 1.0).abs() < 1e-4 && kept.revision == rotor.revision + 1);
    web.clone().quit().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn screws_are_put_into_tapped_holes_from_the_demo_to_the_certificate() {
    let Shop { store, web, .. } = &Shop::open().await;
    press(web, &web.query(By::LinkText("New sitting with another rotor")).first().await.unwrap()).await;
    let rotor = web.query(By::XPath("//select[@id='rotor']/option[contains(., 'adapter C')]")).first().await.unwrap();
    rotor.click().await.unwrap();
    press(web, &web.find(By::XPath("//button[contains(., 'Work out the allowance')]")).await.unwrap()).await;
    fits_a_phone(web).await;
    press(web, &web.find(By::XPath("//button[normalize-space()='Start']")).await.unwrap()).await;

    let (mut pressed, mut put_in, mut seen) = (Vec::new(), 0, 0);
    while !web.current_url().await.unwrap().path().ends_with("/certificate") {
        assert!(pressed.len() < 30, "no certificate after {pressed:?}");
        fits_a_phone(web).await;
        // The wheel with all its holes comes with the next action, above the first button's end.
        assert_eq!(web.find_all(By::Css(".now svg [data-part=hole]")).await.unwrap().len(), 24);
        put_in += web.find_all(By::Css(".now .moves.screws li")).await.unwrap().len();
        let targets =
            web.find_all(By::Css(".now svg [data-part=hole] [data-part=target], .now svg [data-part=take-out]")).await.unwrap().len();
        assert_eq!(targets > 0, !web.find_all(By::Css(".now .moves.screws li")).await.unwrap().is_empty());
        seen += web.find_all(By::Css(".now .saw")).await.unwrap().len();
        let advised = web.find(By::Css(".now button.main, .now a.main")).await.unwrap();
        pressed.push(advised.text().await.unwrap());
        press(web, &advised).await;
    }
    assert!(put_in > 0 && seen > 0, "{pressed:?}");
    let sheet = web.find(By::Css(".sheet")).await.unwrap().text().await.unwrap();
    assert!(sheet.contains("Residual unbalance within the allowance") && sheet.contains("Screws changed: hole"), "{sheet}");
    let kept = store.sittings(None).unwrap();
    assert!(kept[0].closed && kept[0].verdict.as_ref().is_some_and(|v| v["proven"] == true));
    web.clone().quit().await.unwrap();
}
