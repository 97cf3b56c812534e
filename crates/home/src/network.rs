//! The home network as this machine sees it.

use std::net::{IpAddr, Ipv4Addr};

use crate::{HomeError, Result};

/// What this machine is called and where it is reached from home.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Names {
    /// Addresses to listen on.
    pub addresses: Vec<IpAddr>,
    /// The machine's own name, where it has one that can stand in an address.
    pub host: Option<String>,
}

impl Names {
    /// Private addresses of this machine, or the one that was chosen.
    ///
    /// # Errors
    /// `Request` where the chosen one is not of a home network, or there is none.
    pub fn here(chosen: Option<IpAddr>) -> Result<Self> {
        let host = std::fs::read_to_string("/proc/sys/kernel/hostname")
            .ok()
            .or_else(|| std::env::var("COMPUTERNAME").ok())
            .or_else(|| std::env::var("HOSTNAME").ok());
        let host = host
            .map(|name| name.trim().to_ascii_lowercase())
            .filter(|name| is_name(name));
        if let Some(address) = chosen {
            if !is_of_home(address) {
                let why = format!("{address} is not an address of a home network; nothing is served on it");
                return Err(HomeError::Request(why));
            }
            return Ok(Names {
                addresses: vec![address],
                host,
            });
        }
        let all = if_addrs::get_if_addrs().map_err(|error| {
            HomeError::Request(format!("the addresses of this machine cannot be listed: {error}"))
        })?;
        let mut addresses: Vec<IpAddr> = all
            .iter()
            .map(if_addrs::Interface::ip)
            .filter(|address| matches!(address, IpAddr::V4(v4) if v4.is_private()))
            .collect();
        addresses.sort();
        addresses.dedup();
        if addresses.is_empty() {
            let why = "this machine has no address on a home network; connect it, or name one with --address";
            return Err(HomeError::Request(why.to_owned()));
        }
        Ok(Names { addresses, host })
    }

    /// Names as they may stand in a certificate.
    pub fn all(&self) -> Vec<String> {
        let hosts = self
            .host
            .iter()
            .flat_map(|host| [host.clone(), format!("{host}.local")]);
        hosts
            .chain(self.addresses.iter().map(ToString::to_string))
            .collect()
    }

    /// Names as they may stand in a Host header, without a port.
    pub fn hosts(&self) -> Vec<String> {
        let hosts = self
            .host
            .iter()
            .flat_map(|host| [host.clone(), format!("{host}.local")]);
        let addresses = self.addresses.iter().map(|address| match address {
            IpAddr::V4(v4) => v4.to_string(),
            IpAddr::V6(v6) => format!("[{v6}]"),
        });
        hosts.chain(addresses).collect()
    }
}

fn is_name(name: &str) -> bool {
    let letters = |name: &str| {
        name.bytes()
            .all(|byte| byte.is_ascii_alphanumeric() || byte == b'-')
    };
    !name.is_empty() && name.len() <= 63 && letters(name) && name != "localhost"
}

/// Whether an address is of a private network (RFC 1918, RFC 4193), of the link alone (RFC 3927, RFC 4291), or this
/// machine.
pub fn is_of_home(address: IpAddr) -> bool {
    let v4 = |v4: Ipv4Addr| v4.is_private() || v4.is_link_local() || v4.is_loopback();
    match address {
        IpAddr::V4(address) => v4(address),
        IpAddr::V6(address) => match address.to_ipv4_mapped() {
            Some(mapped) => v4(mapped),
            None => {
                let first = address.segments()[0];
                address.is_loopback() || first & 0xfe00 == 0xfc00 || first & 0xffc0 == 0xfe80
            }
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Addresses of the documents named at [`is_of_home`], and of RFC 5737 and RFC 3849, which are of nobody's home.
    #[test]
    fn only_addresses_of_a_home_are_of_home() {
        for home in [
            "10.0.0.1",
            "172.16.0.1",
            "172.31.255.254",
            "192.168.1.20",
            "169.254.3.4",
            "127.0.0.1",
            "::1",
            "fd12:3456::1",
            "fe80::1",
            "::ffff:192.168.1.20",
        ] {
            assert!(is_of_home(home.parse().unwrap()), "{home}");
        }
        for other in [
            "192.0.2.1",
            "172.32.0.1",
            "203.0.113.9",
            "0.0.0.0",
            "2001:db8::1",
            "::ffff:203.0.113.9",
        ] {
            assert!(!is_of_home(other.parse().unwrap()), "{other}");
            assert!(Names::here(Some(other.parse().unwrap())).is_err());
        }
    }

    #[test]
    fn a_name_that_could_be_anything_is_none() {
        assert!(is_name("kitchen-pc") && !is_name("a b") && !is_name("") && !is_name("a.example.org"));
    }
}
