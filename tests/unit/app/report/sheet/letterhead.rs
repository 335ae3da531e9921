use super::*;

/// Test vectors of RFC 4648, section 10.
#[test]
fn base64_is_the_standards() {
    for (plain, coded) in
        [("", ""), ("f", "Zg=="), ("fo", "Zm8="), ("foo", "Zm9v"), ("foobar", "Zm9vYmFy")]
    {
        assert_eq!(base64(plain.as_bytes()), coded);
    }
}

#[test]
fn pictures_are_known_by_their_bytes() {
    let png = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x20\0\0\0\x10\x08\x06\0\0\0";
    assert_eq!(picture(png), Some(("png", 32, 16)));
    let jpeg = b"\xff\xd8\xff\xe0\0\x04ab\xff\xc0\0\x11\x08\0\x10\0\x20\x03";
    assert_eq!(picture(jpeg), Some(("jpeg", 32, 16)));
    for none in [&b"<svg onload='x'/>"[..], b"", b"\xff\xd8\xff", b"GIF89a", &png[..12]] {
        assert_eq!(picture(none), None);
    }
}

#[test]
fn nothing_leaves_a_style_sheets_quotes() {
    let styled = in_style("\"</style>{}\\;@x\n");
    assert!(!styled.contains(['"', '<', '>', '{', '}', ';', '@', '\n']), "{styled}");
}
