//! From a path, or from standard input, to a text: never more than the limit is read, and nothing that has no end.

use std::fs::{self, File};
use std::io::{self, ErrorKind, Read};
use std::path::Path;

use super::text;
use crate::diagnostic::Fault;

/// The text of a file, at most `limit` bytes long; `-` is standard input.
///
/// # Errors
/// A fault if there is no such file, it is a folder, a device or a pipe, it may not be read, it is longer than `limit`,
/// or it is not UTF-8.
pub fn read_file(path: &Path, limit: usize) -> Result<String, Fault> {
    if path.as_os_str() == "-" {
        return read_stream(&mut io::stdin().lock(), limit);
    }
    let kind = fs::metadata(path).map_err(|error| unreadable(&error))?;
    if kind.is_dir() {
        return Err(Fault::new("file-is-folder", "this is a folder, and a file is needed").help("name a file in it"));
    }
    // Opening a pipe waits for its writer, and a device may never end: neither is opened.
    if !kind.is_file() {
        return Err(Fault::new("file-not-regular", "this is a device or a pipe, not a file")
            .help("write `-` as the name to read standard input"));
    }
    if kind.len() > limit as u64 {
        return Err(text::too_long(&format!("{} bytes long", kind.len()), limit));
    }
    read_stream(&mut File::open(path).map_err(|error| unreadable(&error))?, limit)
}

/// All of a stream, at most `limit` bytes long; reading stops one byte after that.
///
/// # Errors
/// A fault if it cannot be read, it is longer than `limit`, or it is not UTF-8.
pub fn read_stream(stream: &mut impl Read, limit: usize) -> Result<String, Fault> {
    let mut bytes = Vec::new();
    let most = (limit as u64).saturating_add(1);
    stream.take(most).read_to_end(&mut bytes).map_err(|error| unreadable(&error))?;
    if bytes.len() > limit {
        return Err(text::too_long(&format!("more than {limit} bytes long"), limit));
    }
    String::from_utf8(bytes).map_err(|error| not_utf8(error.as_bytes(), error.utf8_error().valid_up_to()))
}

fn not_utf8(bytes: &[u8], valid: usize) -> Fault {
    let line = bytes[..valid].iter().filter(|byte| **byte == b'\n').count() + 1;
    let byte = bytes.get(valid).copied().unwrap_or_default();
    let message = format!("this is not UTF-8 text: byte {} (line {line}) is {byte:#04x}", valid + 1);
    let help = match bytes {
        [0xff, 0xfe, ..] | [0xfe, 0xff, ..] => "it is UTF-16: save it again as UTF-8",
        _ => "save it again as UTF-8; if it is no text at all, it is the wrong file",
    };
    Fault::new("file-not-utf8", message).help(help)
}

fn unreadable(error: &io::Error) -> Fault {
    match error.kind() {
        ErrorKind::NotFound => Fault::new("file-not-found", "there is no such file")
            .help("check the name, and the folder it is looked for in"),
        ErrorKind::NotADirectory => Fault::new("file-not-found", "a part of this path is a file, not a folder")
            .help("check the path, from its beginning"),
        ErrorKind::PermissionDenied => Fault::new("file-not-permitted", "this file may not be read by you")
            .help("ask its owner, or the administrator of this computer, for the right to read it"),
        ErrorKind::IsADirectory => {
            Fault::new("file-is-folder", "this is a folder, and a file is needed").help("name a file in it")
        }
        _ => Fault::new("file-unreadable", format!("this could not be read: {error}"))
            .help("try again; if it stays, copy the file to another disk"),
    }
}

#[cfg(test)]
mod tests {
    use std::io::{self, ErrorKind};
    use std::path::Path;

    use rstest::rstest;

    use super::{read_file, read_stream, unreadable};

    #[track_caller]
    fn code_of(path: impl AsRef<Path>) -> &'static str {
        read_file(path.as_ref(), 1024).expect_err("this is not to be read").code
    }

    #[test]
    fn a_file_is_read_whole() {
        let text = read_file(Path::new(env!("CARGO_MANIFEST_DIR")).join("Cargo.toml").as_path(), 64 * 1024);
        assert!(text.is_ok_and(|text| text.starts_with("[package]")));
    }

    #[test]
    fn a_folder_is_not_a_file() {
        assert_eq!(code_of(env!("CARGO_MANIFEST_DIR")), "file-is-folder");
    }

    #[test]
    fn a_missing_file_is_said_to_be_missing() {
        assert_eq!(code_of(concat!(env!("CARGO_MANIFEST_DIR"), "/no such file")), "file-not-found");
        assert_eq!(code_of(concat!(env!("CARGO_MANIFEST_DIR"), "/Cargo.toml/a")), "file-not-found");
        assert_eq!(code_of(""), "file-not-found");
        assert_eq!(code_of("a\0b"), "file-unreadable");
    }

    #[test]
    fn a_long_file_is_not_read() {
        let fault =
            read_file(Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/Cargo.lock")), 1024).expect_err("too long");
        assert_eq!(fault.code, "text-too-long");
        assert!(fault.message.ends_with("at most 1024 bytes (1 KiB) are read"), "{}", fault.message);
    }

    #[cfg(unix)]
    #[test]
    fn what_has_no_end_is_not_opened() {
        assert_eq!(code_of("/dev/zero"), "file-not-regular");
        let pipe = std::env::temp_dir().join(format!("countersign-pipe-{}", std::process::id()));
        let made = std::process::Command::new("mkfifo").arg(&pipe).status().expect("mkfifo is there");
        assert!(made.success());
        let code = code_of(&pipe);
        std::fs::remove_file(&pipe).expect("it was made above");
        assert_eq!(code, "file-not-regular");
    }

    #[test]
    fn a_stream_without_an_end_is_read_up_to_the_limit() {
        let fault = read_stream(&mut io::repeat(b' '), 4096).expect_err("it has no end");
        assert_eq!(fault.code, "text-too-long");
        assert_eq!(read_stream(&mut io::Read::take(io::repeat(b' '), 4096), 4096).map(|text| text.len()), Ok(4096));
    }

    #[rstest]
    #[case(b"a: 1\nb: \xe9t\xe9\n", "this is not UTF-8 text: byte 9 (line 2) is 0xe9", "save it again as UTF-8; if")]
    #[case(b"\xff\xfea\0", "this is not UTF-8 text: byte 1 (line 1) is 0xff", "it is UTF-16")]
    #[case(b"a: \xc3", "this is not UTF-8 text: byte 4 (line 1) is 0xc3", "save it again as UTF-8; if")]
    fn what_is_not_utf8_is_refused_with_its_place(#[case] bytes: &[u8], #[case] message: &str, #[case] help: &str) {
        let fault = read_stream(&mut &bytes[..], 1024).expect_err("it is not UTF-8");
        assert_eq!(fault.message, message);
        assert!(fault.help.is_some_and(|found| found.starts_with(help)));
    }

    #[rstest]
    #[case(ErrorKind::PermissionDenied, "file-not-permitted")]
    #[case(ErrorKind::NotFound, "file-not-found")]
    #[case(ErrorKind::IsADirectory, "file-is-folder")]
    #[case(ErrorKind::Other, "file-unreadable")]
    fn every_error_says_what_to_do(#[case] kind: ErrorKind, #[case] code: &str) {
        let fault = unreadable(&io::Error::from(kind));
        assert_eq!(fault.code, code);
        assert!(fault.help.is_some());
    }
}
