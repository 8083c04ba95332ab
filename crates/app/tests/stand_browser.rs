//! A maker of stands, played by a browser: the demo's stand Birch on a phone and on a shop's computer.

mod chromium;

use chromium::{DESK, PHONE, browser, serve};
use serde_json::json;
use std::sync::Arc;
use std::time::{Duration, Instant};
use stillwheel::sitting::Bench;
use stillwheel::web::App;
use stillwheel_store::{Stand, Store};
use thirtyfour::prelude::*;

/// Press a button that loads another page, and wait for that page.
async fn press(web: &WebDriver, words: &str) {
    let page = web.find(By::Tag("html")).await.unwrap();
    web.find(By::XPath(format!("//main//*[self::button or self::a][normalize-space()='{words}']"))).await.unwrap().click().await.unwrap();
    page.wait_until().stale().await.unwrap();
}

async fn fits(web: &WebDriver, width: u32) {
    let wide: f64 = web.execute("return document.documentElement.scrollWidth", vec![]).await.unwrap().convert().unwrap();
    assert!(wide <= f64::from(width), "the page is {wide} px wide at {}", web.current_url().await.unwrap());
}

/// The figure behind a label of the answer.
async fn figure(web: &WebDriver, label: &str) -> String {
    web.find(By::XPath(format!("//*[@id='answer']//dt[.='{label}']/following-sibling::dd[1]"))).await.unwrap().text().await.unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn on_a_phone_a_slider_is_answered_without_a_new_page_then_kept_levelled_and_used() {
    make_a_stand(PHONE).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn on_the_shops_computer_a_slider_is_answered_without_a_new_page_then_kept_levelled_and_used() {
    make_a_stand(DESK).await;
}

async fn make_a_stand(size: [u32; 2]) {
    let [width, height] = size;
    let folder = tempfile::tempdir().unwrap();
    let store = Arc::new(Store::open(folder.path().join("records.db")).unwrap());
    stillwheel::demo::records(&store, jiff::Timestamp::now()).unwrap();
    let birch = store.list::<Stand>().unwrap().into_iter().find(|s| s.body.name == "Birch").unwrap();
    let home = format!("http://{}", serve(App::new(Bench::new(store.clone()), None, true)).await);
    let (_driver, web) = browser(size, &folder.path().join("profile"), &[]).await;

    web.goto(format!("{home}/stands")).await.unwrap();
    web.find(By::XPath("//a[contains(., 'Birch')]")).await.unwrap().click().await.unwrap();
    web.query(By::Css("#answer svg[data-picture=pressure]")).first().await.unwrap();
    fits(&web, width).await;
    let air = "Air for both";
    let (before, address) = (figure(&web, air).await, web.current_url().await.unwrap());

    // The page is marked: the mark is gone if it is loaded anew.
    let move_it = "window.stays = true; const s = document.querySelector('[data-for=\"feed.supply_bar\"]'); s.value = '5.5';
        s.dispatchEvent(new Event('input', {bubbles: true}));";
    let started = Instant::now();
    web.execute(move_it, vec![]).await.unwrap();
    let mut after = before.clone();
    while after == before {
        assert!(started.elapsed() < Duration::from_secs(20), "no answer to the slider");
        tokio::time::sleep(Duration::from_millis(5)).await;
        // Between the look-up and its text the answer may be put in anew.
        let script =
            "return [...document.querySelectorAll('#answer dt')].find(d => d.textContent === arguments[0]).nextElementSibling.textContent";
        after = web.execute(script, vec![json!(air)]).await.unwrap().convert().unwrap();
    }
    println!("slider to picture at {width} × {height}: {} ms, asked every 5 ms", started.elapsed().as_millis());
    let litres = |t: &str| t.split(' ').next().unwrap().parse::<f64>().unwrap();
    assert!(litres(&after) > litres(&before), "more pressure, more air: {before} to {after}");
    assert!(web.execute("return window.stays === true", vec![]).await.unwrap().convert::<bool>().unwrap());
    assert_eq!(web.current_url().await.unwrap(), address);
    fits(&web, width).await;
    assert_eq!(store.get::<Stand>(&birch.id).unwrap(), birch, "a slider keeps nothing");

    press(&web, "Keep in the sheet").await;
    let kept = store.get::<Stand>(&birch.id).unwrap();
    // The file that is offered for download, as the page itself would fetch it.
    let text = "const done = arguments[0]; fetch(document.querySelector('a[download]').href).then(r => r.text()).then(done)";
    let file: String = web.execute_async(text, vec![]).await.unwrap().convert().unwrap();
    assert_eq!(file, kept.body.sheet_toml);
    assert_eq!(
        file,
        birch.body.sheet_toml.replace("supply_bar = 4.0 ", "supply_bar = 5.5 "),
        "one value changed, remarks and all else kept"
    );

    press(&web, "Use this floor on the bench").await;
    let used = store.get::<Stand>(&birch.id).unwrap();
    assert!(used.body.floor_g_mm != birch.body.floor_g_mm && used.body.drift_sd_g_mm != birch.body.drift_sd_g_mm, "{:?}", used.body);
    let said = web.find(By::Tag("main")).await.unwrap().text().await.unwrap();
    assert!(said.contains("The bench now takes a floor of"), "{said}");

    press(&web, "Level it").await;
    fits(&web, width).await;
    for (name, value) in [("right", "2"), ("away", "-1")] {
        web.find(By::Name(name)).await.unwrap().send_keys(value).await.unwrap();
    }
    press(&web, "Which foot?").await;
    let turns = web.find(By::Css(".now")).await.unwrap().text().await.unwrap();
    assert!(turns.contains("Turn the feet") && turns.contains("clockwise"), "{turns}");
    fits(&web, width).await;
    web.quit().await.unwrap();
}
