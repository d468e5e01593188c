//! Is a page well formed: every element closed in its turn, every plot with a title and a description.

/// Elements of HTML that have no end.
const VOID: [&str; 6] = ["meta", "br", "hr", "img", "input", "link"];

/// What is wrong with a page; empty for a sound one.
pub fn faults_of_page(page: &str) -> Vec<String> {
    let mut faults = Vec::new();
    let mut open: Vec<(String, [bool; 2])> = Vec::new();
    let mut ids: Vec<String> = Vec::new();
    let mut rest = page;
    while let Some(start) = rest.find('<') {
        rest = &rest[start + 1..];
        let end = end_of_tag(rest);
        let tag = &rest[..end];
        rest = rest.get(end + 1..).unwrap_or_default();
        if tag.starts_with('!') {
            continue;
        }
        if let Some(name) = tag.strip_prefix('/') {
            match open.pop() {
                Some((last, told)) if last == name.trim() => {
                    if last == "svg" && told != [true, true] {
                        faults.push("an svg without title and desc".to_owned());
                    }
                }
                other => faults.push(format!("</{name}> closes {other:?}")),
            }
            continue;
        }
        let name: String = tag.chars().take_while(|c| c.is_ascii_alphanumeric()).collect();
        if let Some((_, told)) = open.last_mut().filter(|(parent, _)| parent == "svg") {
            told[0] |= name == "title";
            told[1] |= name == "desc";
        }
        if let Some(id) = tag.split(" id=\"").nth(1).and_then(|after| after.split('"').next()) {
            if ids.iter().any(|known| known == id) {
                faults.push(format!("the id {id} stands twice"));
            }
            ids.push(id.to_owned());
        }
        if name == "svg" && !tag.contains("role=\"img\"") {
            faults.push("an svg without role".to_owned());
        }
        if tag.ends_with('/') || VOID.contains(&name.as_str()) {
            continue;
        }
        if name == "style" {
            rest = rest.find("</style>").map_or("", |at| &rest[at..]);
        }
        open.push((name, [false; 2]));
    }
    faults.extend(open.iter().map(|(name, _)| format!("<{name}> is never closed")));
    faults
}

/// The place of the sign that ends a tag, signs within quotes left aside.
fn end_of_tag(tag: &str) -> usize {
    let mut is_quoted = false;
    for (place, sign) in tag.char_indices() {
        match sign {
            '"' => is_quoted = !is_quoted,
            '>' if !is_quoted => return place,
            _ => {}
        }
    }
    tag.len()
}

#[test]
fn faults_are_seen() {
    assert!(faults_of_page("<p>a<br>b</p>").is_empty());
    assert_eq!(faults_of_page("<p><b>a</p>").len(), 2);
    assert_eq!(faults_of_page("<svg role=\"img\"><title>t</title></svg>").len(), 1);
    assert_eq!(faults_of_page("<p id=\"a\"></p><p id=\"a\">").len(), 2);
}
