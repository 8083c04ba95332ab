//! dev main
fn main() -> anyhow::Result<()> { stillwheel::demo::demo(8123, false) }
