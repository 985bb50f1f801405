//! Another machine reaches the server over TLS only, with the certificate that was given; curl is the other machine.

use std::fs;
use std::process::Command;

use crate::common::tools::{CURL, missing};
use crate::served::Served;
use crate::ward::Ward;

fn curl(arguments: &[&str]) -> (i32, String) {
    let said = CURL.command().args(["--silent", "--show-error", "--include"]).args(arguments).output();
    let said = said.expect("its test asks for it");
    (said.status.code().unwrap_or(-1), String::from_utf8_lossy(&said.stdout).into_owned())
}

#[test]
fn it_is_served_over_tls_with_the_certificate_that_was_given() {
    if missing(&[CURL]) {
        return;
    }
    let ward = Ward::new("tls");
    let made = rcgen::generate_simple_self_signed(vec!["ward.example".to_owned()]).expect("a certificate");
    let folder = ward.journal.parent().expect("its folder");
    let (certificate, key) = (folder.join("certificate.pem"), folder.join("key.pem"));
    fs::write(&certificate, made.cert.pem()).expect("room");
    fs::write(&key, made.signing_key.serialize_pem()).expect("room");
    fs::set_permissions(&key, std::os::unix::fs::PermissionsExt::from_mode(0o600)).expect("it is ours");
    let served = Served::over_tls(&ward, &certificate, &key);
    let (port, trusted) = (served.address.port(), certificate.to_str().expect("a path"));
    let (there, address) = (format!("ward.example:{port}:127.0.0.1"), format!("https://ward.example:{port}/sign-in"));
    let (status, page) = curl(&["--cacert", trusted, "--resolve", &there, &address]);
    assert!(status == 0 && page.contains("Sign in"), "{status}: {page}");
    let cookie = page.lines().find(|line| line.to_lowercase().starts_with("set-cookie:")).expect("a cookie");
    assert!(cookie.contains("; Secure") && cookie.contains("HttpOnly"), "{cookie}");
    // Somebody who does not know the certificate is not served, and without TLS nothing is.
    let (status, page) = curl(&["--resolve", &there, &address]);
    assert!(status == 60 && page.is_empty(), "{status}: {page}");
    let (status, page) = curl(&[&format!("http://127.0.0.1:{port}/sign-in")]);
    assert!(status != 0 && page.is_empty(), "{status}: {page}");
}

#[test]
fn without_a_certificate_no_other_machine_is_listened_to() {
    let ward = Ward::new("no-tls");
    let said = Command::new(env!("CARGO_BIN_EXE_countersign"))
        .args(["serve", "--formulary", "demonstration", "--address", "0.0.0.0:0", "--journal"])
        .arg(&ward.journal)
        .output()
        .expect("the program");
    let says = String::from_utf8_lossy(&said.stderr);
    assert_eq!(said.status.code(), Some(2), "{says}");
    assert!(says.contains("no certificate is given") && says.contains("--certificate"), "{says}");
}
