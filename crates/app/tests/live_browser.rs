//! Two devices on one sitting, as their owners see it: a page that is only watched goes along, a page on which something was begun keeps it and says
//! what came in.

mod chromium;
mod common;

use chromium::{DESK, browser, serve};
use std::sync::Arc;
use std::time::Duration;
use stillwheel::sitting::Bench;
use stillwheel::web::App;
use stillwheel_store::Store;
use thirtyfour::prelude::*;

/// Longest that a person waits for what the other one stored.
const SOON: Duration = Duration::from_secs(15);

async fn until(web: &WebDriver, script: &str) {
    let begun = std::time::Instant::now();
    loop {
        let so: bool = web.execute(format!("return Boolean({script})"), vec![]).await.unwrap().convert().unwrap();
        if so {
            return;
        }
        assert!(
            begun.elapsed() < SOON,
            "never: {script}; the page says {}",
            web.find(By::Tag("main")).await.unwrap().text().await.unwrap()
        );
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_watched_page_goes_along_and_a_page_in_use_keeps_what_was_typed() {
    let folder = tempfile::tempdir().unwrap();
    let store = Arc::new(Store::open(folder.path().join("records.db")).unwrap());
    stillwheel::demo::records(&store, jiff::Timestamp::now()).unwrap();
    let address = serve(App::new(Bench::new(store.clone()), None, false)).await.to_string();
    let post = |path: String, token: &'static str, after: &'static str, deg: &'static str| {
        let address = address.clone();
        let form = vec![("token", token), ("after_seq", after), ("kind", "settle"), ("settle_deg", deg), ("sd_deg", "3.5")];
        async move { tokio::task::spawn_blocking(move || common::post(&address, &path, &form).unwrap().status).await.unwrap() }
    };
    let start = [("quick", "yes"), ("stand", "virtual"), ("operator", "Ada")];
    let at = address.clone();
    let path = tokio::task::spawn_blocking(move || common::post(&at, "/sittings", &start).unwrap().location()).await.unwrap();
    let (_driver, web) = browser(DESK, &folder.path().join("profile"), &[]).await;
    web.goto(format!("http://{address}{path}")).await.unwrap();
    until(&web, "document.querySelector('[data-sitting]').dataset.seq === '0'").await;

    assert_eq!(post(format!("{path}/look"), "a", "0", "100").await, 303);
    until(&web, "document.querySelector('[data-sitting]').dataset.seq === '1'").await;
    until(&web, "document.querySelector('#event-1')").await;
    let note = web.find(By::Css("[data-live-note]")).await.unwrap().text().await.unwrap();
    assert!(note.contains("Settled with 100° at the bottom"), "{note}");

    // Now something is typed here.
    web.execute(
        "const f = document.querySelector('input[name=settle_deg]'); f.closest('details')?.setAttribute('open', ''); f.value = '222'; \
         f.dispatchEvent(new Event('input', {bubbles: true}))",
        vec![],
    )
    .await
    .unwrap();
    assert_eq!(post(format!("{path}/look"), "b", "1", "104").await, 303);
    until(&web, "document.querySelector('[data-live-note]').textContent.includes('104°')").await;
    let kept: String =
        web.execute("return document.querySelector('input[name=settle_deg]').value", vec![]).await.unwrap().convert().unwrap();
    assert_eq!(kept, "222");
    assert!(web.find_all(By::Id("event-2")).await.unwrap().is_empty(), "the page was not changed under its owner's hands");
    web.find(By::Css("[data-live-note] a")).await.unwrap().click().await.unwrap();
    until(&web, "document.querySelector('#event-2')").await;
    web.quit().await.unwrap();
}
