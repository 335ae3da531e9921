use super::*;

#[test]
fn chats_and_counts_in_brackets() {
    let kinds = |name: &str| name == "CPU" || name == "RAM";
    let chat = "[14:02] Maud: Kerf P4\n[14:03] Jory: ok";
    assert_eq!(without_prefixes(chat, &kinds), "Kerf P4\nok");
    assert_eq!(without_prefixes("<Maud> Kerf P4\n<Jo> ok", &kinds), "Kerf P4\nok");
    assert_eq!(without_prefixes("(1) A\n(2) B", &kinds), "1) A\n2) B");
    assert_eq!(without_prefixes("(1) A\n(4) B", &kinds), "- 1x A\n- 4x B");
    let names = "Maud: Kerf P4\nJo: ok\nMaud: RAM: Dulse\nJo: fine";
    assert_eq!(without_prefixes(names, &kinds), "Kerf P4\nok\nRAM: Dulse\nfine");
    let labels = "CPU: Kerf P4\nRAM: Dulse\nRAM: Kelp\nCPU: none";
    assert_eq!(without_prefixes(labels, &kinds), labels);
}
