//! A real Chromium for the tests that look at pages: driver, browser of a given size, and a server for it.
#![allow(dead_code, reason = "each test takes what it needs")]

use serde_json::json;
use std::net::{Ipv4Addr, SocketAddr, TcpListener};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;
use stillwheel::web::{App, router};
use thirtyfour::prelude::*;

/// The browser's driver, ended with the test.
pub(crate) struct Driver(Child);

impl Driver {
    /// Its process, whose children the browser's are.
    pub(crate) fn id(&self) -> u32 {
        self.0.id()
    }
}

impl Drop for Driver {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// Width and height of a phone, CSS px.
pub(crate) const PHONE: [u32; 2] = [390, 844];
/// The same of a shop's computer.
pub(crate) const DESK: [u32; 2] = [1280, 800];

/// A browser of this size with a profile of its own; `more`: further arguments.
pub(crate) async fn browser(size: [u32; 2], profile: &Path, more: &[&str]) -> (Driver, WebDriver) {
    let port = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap().local_addr().unwrap().port();
    let process = Command::new("chromedriver")
        .arg(format!("--port={port}"))
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("chromedriver must be installed (Debian: chromium-driver)");
    let driver = Driver(process);
    let mut caps = DesiredCapabilities::chrome();
    let usual = [
        "--headless=new",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-dev-shm-usage",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--no-first-run",
        "--force-prefers-reduced-motion",
    ];
    for arg in usual.iter().chain(more) {
        caps.add_arg(arg).unwrap();
    }
    caps.add_arg(&format!("--user-data-dir={}", profile.display())).unwrap();
    let metrics = json!({"deviceMetrics": {"width": size[0], "height": size[1], "pixelRatio": 1.0}});
    caps.add_experimental_option("mobileEmulation", metrics).unwrap();
    for _ in 0..100 {
        if tokio::net::TcpStream::connect((Ipv4Addr::LOCALHOST, port)).await.is_ok() {
            break;
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    (driver, WebDriver::new(&format!("http://127.0.0.1:{port}"), caps).await.unwrap())
}

/// Serve these pages on a free port of this machine.
pub(crate) async fn serve(app: App) -> SocketAddr {
    let listener = tokio::net::TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).await.unwrap();
    let address = listener.local_addr().unwrap();
    tokio::spawn(async move { axum::serve(listener, router(app).into_make_service_with_connect_info::<SocketAddr>()).await });
    address
}
