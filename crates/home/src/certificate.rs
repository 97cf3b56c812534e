//! The certificate: made once, kept beside the book, renewed when it ends or the machine is called otherwise.

use interstice_glucose::{DAY_S, Second};
use jiff::Timestamp;
use jiff::tz::Offset;
use rcgen::{
    BasicConstraints, CertificateParams, CidrSubnet, DistinguishedName, DnType, ExtendedKeyUsagePurpose,
    GeneralSubtree, IsCa, Issuer, KeyPair, KeyUsagePurpose, NameConstraints, date_time_ymd,
};
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::household::Household;
use crate::{HomeError, Result};

/// Days it is good for; some systems take no certificate of more than 825 days.
const GOOD_DAYS: i64 = 820;
/// It is renewed so long before its end.
const RENEW_S: Second = 30 * DAY_S;

const KEY: &str = "key.pem";
const CHAIN: &str = "certificate.pem";
const MADE: &str = "certificate.json";

/// What is known of the certificate that is kept.
#[derive(Debug, Serialize, Deserialize)]
struct Made {
    names: Vec<String>,
    until: Second,
}

/// The certificate and its key.
#[derive(Debug)]
pub struct Certificate {
    /// The certificate, and the one that vouches for it.
    pub chain: Vec<CertificateDer<'static>>,
    /// Its key.
    pub key: PrivateKeyDer<'static>,
    /// Whether it was made just now.
    pub is_new: bool,
}

impl Certificate {
    /// SHA-256 of the certificate, as browsers show it.
    pub fn fingerprint(&self) -> String {
        self.chain
            .first()
            .map_or_else(String::new, |der| fingerprint_of(der))
    }

    /// The one that vouches for it, as a device takes it in to trust this app.
    pub fn root(&self) -> &[u8] {
        self.chain.last().map_or(&[], |der| der.as_ref())
    }
}

/// SHA-256 in pairs of digits with colons.
pub fn fingerprint_of(der: &[u8]) -> String {
    let pairs: Vec<String> = Sha256::digest(der)
        .iter()
        .map(|byte| format!("{byte:02X}"))
        .collect();
    pairs.join(":")
}

impl Household {
    /// The certificate for these names: the one that is kept where it is good for them, else a new one.
    ///
    /// # Errors
    /// `Folder`, `Damaged`, `Certificate`.
    pub fn certificate(&self, names: &[String], now: Second) -> Result<Certificate> {
        let _held = self.folder.hold()?;
        let kept = self.folder.read(MADE)?;
        let kept: Option<Made> = kept.and_then(|text| serde_json::from_str(&text).ok());
        let is_good = kept.is_some_and(|made| {
            names.iter().all(|name| made.names.contains(name)) && now < made.until - RENEW_S
        });
        if !is_good {
            self.make(names, now)?;
        }
        let read = |name| self.folder.read(name)?.ok_or_else(|| self.folder.damaged(name));
        let (chain, key) = (read(CHAIN)?, read(KEY)?);
        let chain: std::result::Result<Vec<_>, _> =
            CertificateDer::pem_slice_iter(chain.as_bytes()).collect();
        Ok(Certificate {
            chain: chain.map_err(|_| self.folder.damaged(CHAIN))?,
            key: PrivateKeyDer::from_pem_slice(key.as_bytes()).map_err(|_| self.folder.damaged(KEY))?,
            is_new: !is_good,
        })
    }

    /// A root that vouches for these names alone and signs once: its key is never written down, so that a device that
    /// trusts it can be deceived by nobody later.
    fn make(&self, names: &[String], now: Second) -> Result<()> {
        let wrong = |error: rcgen::Error| HomeError::Certificate(error.to_string());
        let root_key = KeyPair::generate().map_err(wrong)?;
        let mut root = dated(CertificateParams::default(), now)?;
        root.distinguished_name = called("Interstice on this machine");
        root.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
        root.key_usages = vec![KeyUsagePurpose::KeyCertSign];
        root.name_constraints = Some(NameConstraints {
            permitted_subtrees: names.iter().map(|name| only(name)).collect(),
            excluded_subtrees: Vec::new(),
        });
        let root_made = root.self_signed(&root_key).map_err(wrong)?;
        let root = Issuer::new(root, root_key);
        let key = KeyPair::generate().map_err(wrong)?;
        let mut own = dated(CertificateParams::new(names.to_vec()).map_err(wrong)?, now)?;
        own.distinguished_name = called("Interstice");
        own.is_ca = IsCa::ExplicitNoCa;
        own.key_usages = vec![KeyUsagePurpose::DigitalSignature];
        own.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
        own.use_authority_key_identifier_extension = true;
        let own = own.signed_by(&key, &root).map_err(wrong)?;
        let made = Made {
            names: names.to_vec(),
            until: now + (GOOD_DAYS - 1) * DAY_S,
        };
        let made = serde_json::to_string(&made).map_err(|error| HomeError::Certificate(error.to_string()))?;
        self.folder.write(KEY, &key.serialize_pem())?;
        self.folder.write(CHAIN, &(own.pem() + &root_made.pem()))?;
        self.folder.write(MADE, &(made + "\n"))
    }
}

fn called(name: &str) -> DistinguishedName {
    let mut called = DistinguishedName::new();
    called.push(DnType::CommonName, name);
    called
}

/// One name or one address and nothing else.
fn only(name: &str) -> GeneralSubtree {
    match name.parse::<std::net::IpAddr>() {
        Ok(std::net::IpAddr::V4(v4)) => GeneralSubtree::IpAddress(CidrSubnet::V4(v4.octets(), [0xff; 4])),
        Ok(std::net::IpAddr::V6(v6)) => GeneralSubtree::IpAddress(CidrSubnet::V6(v6.octets(), [0xff; 16])),
        Err(_) => GeneralSubtree::DnsName(name.to_owned()),
    }
}

/// From the day before, for clocks that are late, to its end.
fn dated(mut params: CertificateParams, now: Second) -> Result<CertificateParams> {
    let day = |at: Second| {
        let at = Timestamp::from_second(at).map_err(|error| HomeError::Certificate(error.to_string()))?;
        let date = Offset::UTC.to_datetime(at).date();
        Ok(date_time_ymd(
            i32::from(date.year()),
            date.month().unsigned_abs(),
            date.day().unsigned_abs(),
        ))
    };
    params.not_before = day(now - DAY_S)?;
    params.not_after = day(now + GOOD_DAYS * DAY_S)?;
    Ok(params)
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOW: Second = 1_767_225_600;

    #[test]
    fn it_is_made_once_and_renewed_when_it_must_be() {
        let folder = tempfile::tempdir().unwrap();
        let household = Household::beside(&folder.path().join("book"));
        let names = ["kitchen".to_owned(), "192.168.1.20".to_owned()];
        let first = household.certificate(&names, NOW).unwrap();
        assert!(first.is_new && first.chain.len() == 2);
        let again = household.certificate(&names, NOW + 700 * DAY_S).unwrap();
        assert!(!again.is_new && again.fingerprint() == first.fingerprint());
        let fewer = household.certificate(&names[1..], NOW).unwrap();
        assert_eq!(fewer.fingerprint(), first.fingerprint());
        let moved = household.certificate(&["192.168.1.21".to_owned()], NOW).unwrap();
        assert!(moved.is_new && moved.fingerprint() != first.fingerprint());
        let ending = household
            .certificate(&["192.168.1.21".to_owned()], NOW + 800 * DAY_S)
            .unwrap();
        assert!(ending.is_new);
        assert_eq!(first.fingerprint().len(), 32 * 3 - 1);
    }

    #[cfg(unix)]
    #[test]
    fn the_key_is_for_its_owner_alone_and_the_roots_is_nowhere() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let household = Household::beside(&folder.path().join("book"));
        household.certificate(&["kitchen".to_owned()], NOW).unwrap();
        let mut keys = 0;
        for entry in std::fs::read_dir(folder.path().join("book.home")).unwrap() {
            let path = entry.unwrap().path();
            assert_eq!(
                std::fs::metadata(&path).unwrap().permissions().mode() & 0o777,
                0o600,
                "{path:?}"
            );
            keys += std::fs::read_to_string(&path)
                .unwrap()
                .matches("PRIVATE KEY-----\n")
                .count();
        }
        assert_eq!(keys, 2, "one key, its beginning and its end");
    }
}
