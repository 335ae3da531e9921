use super::*;

#[test]
fn they_make_the_other_text_whatever_its_ends() {
    let texts = [
        "",
        "a",
        "a\n",
        "a\nb",
        "a\nb\n",
        "é𝄞\r\nb\r\nc",
        "é𝄞\r\nb𝄞\nc",
        "b\nx\n\n",
        "\n\n",
        "a\nb\nc\nd",
        "a a\nab b\n",
        "ab\r\n",
        "a b\r\n",
        "aa aa\n",
        "aa\n",
        "aaa aa aa\n",
    ];
    for old in texts {
        for new in texts {
            let all = between(old, new);
            assert_eq!(applied(old, &all), new, "{old:?} to {new:?}: {all:?}");
            for pair in all.windows(2) {
                assert!(pair[0].span.end() <= pair[1].span.start(), "{all:?}");
            }
        }
    }
}

#[test]
fn only_words_that_differ_are_replaced() {
    let old = "# top\npart = \"cooler/deep-240\" # quiet\ncount = 2\n";
    let new = "# top\npart = \"cooler/deep-120-lean\" # quiet\ncount = 2\n";
    let all = between(old, new);
    assert_eq!(all.len(), 1);
    assert_eq!(&old[all[0].span.start()..all[0].span.end()], "cooler/deep-240");
    assert_eq!(all[0].text, "cooler/deep-120-lean");
}
