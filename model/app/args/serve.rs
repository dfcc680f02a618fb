//! Arguments of `serve`.

use clap::Args;
use std::net::{IpAddr, SocketAddr};
use std::path::PathBuf;

#[derive(Debug, Args)]
pub(crate) struct ServeArgs {
    /// Port to listen on, on this machine alone; any free one, if left out
    #[arg(long)]
    pub(crate) port: Option<u16>,
    /// This machine's address on the shop's network, with a port if you like: "192.168.1.20:8080"; devices there are let in by a code that the page
    /// of this machine shows. Nothing is encrypted on the way
    #[arg(long, value_name = "ADDRESS", value_parser = one_address)]
    pub(crate) listen: Option<SocketAddr>,
    /// The job book; by default jobs.book beside the shop's profile, or in this folder
    #[arg(long, value_name = "FILE")]
    pub(crate) book: Option<PathBuf>,
    /// Quote as if no job of the shop had been closed
    #[arg(long)]
    pub(crate) no_learning: bool,
}

/// One address of this machine, with a port or with any free one. All addresses at once have no name to be asked by, so they are refused.
fn one_address(text: &str) -> Result<SocketAddr, String> {
    let wrong = || "expected one address, such as 192.168.1.20 or 192.168.1.20:8080".to_owned();
    let address: SocketAddr = match (text.parse::<SocketAddr>(), text.parse::<IpAddr>()) {
        (Ok(address), _) => address,
        (_, Ok(ip)) => SocketAddr::new(ip, 0),
        _ => return Err(wrong()),
    };
    if address.ip().is_unspecified() || address.ip().is_multicast() {
        return Err(format!("{text} is no address of one machine; {}", wrong()));
    }
    Ok(address)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_address_is_taken_and_all_at_once_are_not() {
        assert!(one_address("192.0.2.20:8080").is_ok_and(|a| a.port() == 8080));
        assert!(one_address("192.0.2.20").is_ok_and(|a| a.port() == 0));
        for bad in [
            "0.0.0.0",
            "[::]:80",
            "tablet",
            "",
            "192.0.2.20:99999",
            "224.0.0.1",
        ] {
            assert!(one_address(bad).is_err(), "{bad}");
        }
    }
}
