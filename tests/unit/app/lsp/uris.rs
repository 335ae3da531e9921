use super::*;

#[test]
fn names_and_paths_go_there_and_back() {
    for path in ["/nowhere-here/a b/ü#%.toml", "/nowhere-here/日本/x?y.toml"] {
        let uri = uri_of(Path::new(path));
        assert!(typed(&uri).is_some(), "{uri}");
        assert_eq!(path_of(&uri), Some(PathBuf::from(path)), "{uri}");
    }
    assert_eq!(path_of("untitled:a"), None);
    assert_eq!(path_of("file:///a%00b"), None);
    assert_eq!(path_of("file://localhost/nowhere-here/x"), Some("/nowhere-here/x".into()));
}
