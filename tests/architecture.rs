//! The direction of knowledge, read from the source itself: who may import whom, which file may name which library, and
//! what may be nowhere.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// What every algorithm may know, lowest first: each may import those before it.
const LADDER: [&str; 10] = ["error", "units", "image", "color", "filter", "learned", "paper", "matte", "foreground", "repair"];

/// What stands beside the ladder, and what it may import.
const BESIDE: [(&str, &[&str]); 8] = [
    ("geometry", &["error", "units", "image", "color", "filter"]),
    ("resample", &["error", "units", "image", "color", "filter"]),
    ("layout", &["error", "units"]),
    ("scene", &["error", "units", "image", "color", "filter", "geometry", "resample", "layout"]),
    ("decode", &["error", "units", "image", "color", "geometry"]),
    ("encode", &["error", "units", "image", "color"]),
    (
        "pipeline",
        &[
            "error",
            "units",
            "image",
            "color",
            "filter",
            "learned",
            "paper",
            "matte",
            "foreground",
            "repair",
            "geometry",
            "resample",
            "layout",
            "scene",
            "decode",
            "encode",
        ],
    ),
    ("wasm", &["error", "units", "image", "pipeline", "layout", "scene"]),
];

/// The only places that may name a third-party crate: files, or folders with a slash at the end.
const LIBRARIES: [(&str, &[&str]); 18] = [
    ("png", &["src/decode/png.rs"]),
    ("tiff", &["src/decode/tiff.rs", "src/decode/tiff/"]),
    ("zune_jpeg", &["src/decode/jpeg.rs"]),
    ("hayro_jpeg2000", &["src/decode/jpx.rs"]),
    ("hayro_ccitt", &["src/decode/packed.rs"]),
    ("hayro_syntax", &["src/decode/pdf.rs", "src/decode/pdf/"]),
    ("weezl", &["src/decode/packed.rs"]),
    ("flate2", &["src/decode/packed.rs", "src/encode/deflate.rs", "src/encode/png/chunk.rs"]),
    ("half", &["src/decode/samples.rs"]),
    ("image", &["src/decode/plain.rs"]),
    ("image_webp", &["src/encode/webp.rs"]),
    ("moxcms", &["src/color/profile.rs", "src/color/table.rs"]),
    ("libm", &["src/color/math.rs"]),
    ("serde_json", &["src/pipeline/", "src/wasm/"]),
    ("wasm_bindgen", &["src/wasm/"]),
    ("js_sys", &["src/wasm/"]),
    ("web_sys", &["src/wasm/"]),
    ("console_error_panic_hook", &["src/wasm/"]),
];

/// Functions of the standard library that give other bits in WebAssembly than natively.
const TRANSCENDENTAL: [&str; 29] = [
    "powf", "powi", "exp", "exp2", "exp_m1", "ln", "ln_1p", "log", "log2", "log10", "sin", "cos", "sin_cos", "tan", "asin",
    "acos", "atan", "atan2", "sinh", "cosh", "tanh", "asinh", "acosh", "atanh", "hypot", "cbrt", "mul_add", "gamma", "ln_gamma",
];

/// What would make one run differ from another, or reach out of the module.
const RESTLESS: [&str; 12] = [
    "HashMap",
    "HashSet",
    "RandomState",
    "Instant",
    "SystemTime",
    "std::thread",
    "std::fs",
    "std::net",
    "std::env",
    "std::process",
    "std::time",
    "static mut",
];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// A file of the repository: its path from the top, and its text.
struct File {
    path: String,
    text: String,
}

fn files(folder: &str, extensions: &[&str]) -> Vec<File> {
    let mut found = Vec::new();
    let mut folders: Vec<PathBuf> = vec![root().join(folder)];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display())) {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| extensions.iter().any(|x| e == *x)) {
                let text = fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
                let path = path.strip_prefix(root()).expect("inside").to_string_lossy().replace('\\', "/");
                found.push(File { path, text });
            }
        }
    }
    found.sort_by(|a, b| a.path.cmp(&b.path));
    assert!(!found.is_empty(), "nothing found in {folder}");
    found
}

/// Rust source with comments and the insides of strings and characters blanked; lines stay where they are.
fn code(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let mut out = String::with_capacity(text.len());
    let blank = |out: &mut String, part: &[char]| part.iter().for_each(|c| out.push(if *c == '\n' { '\n' } else { ' ' }));
    let is = |i: usize, what: &str| what.chars().enumerate().all(|(k, c)| chars.get(i + k) == Some(&c));
    let mut i = 0;
    while i < chars.len() {
        let word_before = i > 0 && (chars[i - 1].is_alphanumeric() || chars[i - 1] == '_');
        let end = if is(i, "//") {
            (i..chars.len()).find(|&k| chars[k] == '\n').unwrap_or(chars.len())
        } else if is(i, "/*") {
            (i + 2..chars.len()).find(|&k| is(k, "*/")).map_or(chars.len(), |k| k + 2)
        } else if chars[i] == 'r' && !word_before && (is(i + 1, "\"") || is(i + 1, "#")) {
            let hashes = (i + 1..chars.len()).take_while(|&k| chars[k] == '#').count();
            if is(i + 1 + hashes, "\"") {
                let close = format!("\"{}", "#".repeat(hashes));
                (i + 2 + hashes..chars.len()).find(|&k| is(k, &close)).map_or(chars.len(), |k| k + 1 + hashes)
            } else {
                i
            }
        } else if chars[i] == '"' {
            let mut k = i + 1;
            while k < chars.len() && chars[k] != '"' {
                k += if chars[k] == '\\' { 2 } else { 1 };
            }
            k + 1
        } else if is(i, "'\\") {
            (i + 3..chars.len()).find(|&k| chars[k] == '\'').map_or(chars.len(), |k| k + 1)
        } else if chars[i] == '\'' && chars.get(i + 2) == Some(&'\'') {
            i + 3
        } else {
            i
        };
        if end > i {
            let end = end.min(chars.len());
            blank(&mut out, &chars[i..end]);
            i = end;
        } else {
            out.push(chars[i]);
            i += 1;
        }
    }
    out
}

/// The code without its test modules, which stand at the end of a file.
fn without_tests(code: &str) -> &str {
    code.find("#[cfg(test)]").map_or(code, |at| &code[..at])
}

/// Where `name` stands as a word of its own: what comes before and what comes after each.
fn words<'a>(code: &'a str, name: &'a str) -> impl Iterator<Item = (&'a str, &'a str)> {
    let part = |c: char| c.is_alphanumeric() || c == '_';
    code.match_indices(name)
        .map(|(at, _)| (&code[..at], &code[at + name.len()..]))
        .filter(move |(before, after)| !before.ends_with(part) && !after.starts_with(part))
}

/// The first names of everything imported or called by a path that begins with `start`, such as `crate::`.
fn named_by(code: &str, start: &str) -> BTreeSet<String> {
    let name = |s: &str| s.trim_start().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect::<String>();
    let mut found = BTreeSet::new();
    for (at, _) in code.match_indices(start) {
        let rest = &code[at + start.len()..];
        if !rest.starts_with('{') {
            found.insert(name(rest));
            continue;
        }
        let mut depth = 0;
        for (i, c) in rest.char_indices() {
            match c {
                '{' => depth += 1,
                '}' => depth -= 1,
                _ => {}
            }
            if depth == 1 && (c == '{' || c == ',') {
                found.insert(name(&rest[i + 1..]));
            }
            if depth == 0 {
                break;
            }
        }
    }
    found.remove("");
    found
}

fn allowed() -> BTreeMap<&'static str, BTreeSet<&'static str>> {
    let ladder = LADDER.iter().enumerate().map(|(i, name)| (*name, LADDER[..i].iter().copied().collect()));
    let beside = BESIDE.iter().map(|(name, may)| (*name, may.iter().copied().collect()));
    ladder.chain(beside).collect()
}

/// The top module that a file belongs to: `src/paper/field.rs` to `paper`.
fn module(path: &str) -> &str {
    let inside = path.strip_prefix("src/").expect("a source file");
    inside.split('/').next().expect("a name").trim_end_matches(".rs")
}

#[test]
fn the_reader_of_imports_reads() {
    let text = "use crate::{image::Plane, error};\n// crate::matte\nlet s = \"crate::pipeline \\\" \"; let c = '\"'; crate::units::Mm(1.0)";
    let names: Vec<String> = named_by(&code(text), "crate::").into_iter().collect();
    assert_eq!(names, ["error", "image", "units"]);
    assert_eq!(code("r#\"a \" b\"# c").trim(), "c");
    assert_eq!(words("png::a xpng::b crate::png::c", "png").count(), 2);
}

#[test]
fn knowledge_runs_one_way() {
    let allowed = allowed();
    let mut wrong = Vec::new();
    for file in files("src", &["rs"]) {
        let own = module(&file.path);
        if own == "lib" {
            continue;
        }
        let Some(may) = allowed.get(own) else {
            wrong.push(format!(
                "{}: \"{own}\" has no place in the order; give it one in this test and in DEVELOPERS.md",
                file.path
            ));
            continue;
        };
        let text = code(&file.text);
        let mut names = named_by(&text, "crate::");
        // In the top file of a module `super` is the crate itself.
        if file.path == format!("src/{own}.rs") || file.path == format!("src/{own}/mod.rs") {
            names.extend(named_by(&text, "super::").into_iter().filter(|name| allowed.contains_key(name.as_str())));
        }
        for name in names.iter().filter(|name| *name != own && !may.contains(name.as_str())) {
            wrong.push(format!("{}: {own} must not know {name}", file.path));
        }
        if text.contains("super::super") {
            wrong.push(format!("{}: a path by two supers hides what is imported; begin it with crate", file.path));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_library_stays_behind_its_file() {
    let mut wrong = Vec::new();
    for file in files("src", &["rs"]) {
        let text = code(&file.text);
        for (library, places) in LIBRARIES {
            // A module of the same name is not the library.
            let own_module = [format!("mod {library};"), format!("use crate::{library};"), format!("use super::{library};")];
            if own_module.iter().any(|m| text.contains(m.as_str())) {
                continue;
            }
            let used = words(&text, library).any(|(before, after)| {
                let path = after.starts_with("::") && (!before.ends_with("::") || before.ends_with(" ::"));
                path || (before.trim_end().ends_with("use") && after.trim_start().starts_with([';', ' ']))
            });
            let home = places.iter().any(|p| if p.ends_with('/') { file.path.starts_with(p) } else { file.path == *p });
            if used && !home {
                wrong.push(format!("{}: {library} belongs in {}", file.path, places.join(", ")));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// A library that is not in the table above would be free to go anywhere.
#[test]
fn every_library_has_a_home() {
    let cargo = fs::read_to_string(root().join("Cargo.toml")).expect("Cargo.toml");
    let mut inside = false;
    let mut count = 0;
    for line in cargo.lines().map(str::trim) {
        if line.starts_with('[') {
            inside = line.ends_with("dependencies]") && !line.contains("dev-dependencies");
        } else if let (true, Some((name, _))) = (inside && !line.starts_with('#'), line.split_once('=')) {
            let name = name.trim().replace('-', "_");
            assert!(LIBRARIES.iter().any(|(library, _)| *library == name), "{name} has no home in this test");
            count += 1;
        }
    }
    assert_eq!(count, LIBRARIES.len(), "a library of this test is no longer in Cargo.toml");
}

#[test]
fn the_code_is_safe_and_gives_the_same_bits_everywhere() {
    let mut wrong = Vec::new();
    for file in files("src", &["rs"]) {
        let text = code(&file.text);
        if words(&text, "unsafe").next().is_some() {
            wrong.push(format!("{}: unsafe", file.path));
        }
        let text = without_tests(&text);
        for name in TRANSCENDENTAL {
            let called = words(text, name).any(|(before, after)| {
                let method = before.ends_with('.') && after.starts_with('(');
                method || ["f32::", "f64::"].iter().any(|t| before.ends_with(t))
            });
            if called {
                wrong.push(format!(
                    "{}: {name} of the standard library; color::math has one that is the same everywhere",
                    file.path
                ));
            }
        }
        for name in RESTLESS {
            if words(text, name).next().is_some() {
                wrong.push(format!("{}: {name}", file.path));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn only_the_thin_face_knows_javascript() {
    for file in files("src", &["rs"]).iter().filter(|f| module(&f.path) != "wasm") {
        for name in ["wasm_bindgen", "js_sys", "web_sys"] {
            assert!(words(&code(&file.text), name).next().is_none(), "{}: {name}", file.path);
        }
    }
}

#[test]
fn the_page_asks_nothing_of_the_network() {
    const REACHING: [&str; 9] = [
        "fetch(",
        "XMLHttpRequest",
        "WebSocket",
        "WebTransport",
        "EventSource",
        "sendBeacon",
        "RTCPeerConnection",
        "importScripts(",
        "serviceWorker",
    ];
    /// Names of XML vocabularies look like addresses, but nothing is asked of them.
    const NAMES: [&str; 2] = ["http://www.w3.org/2000/svg", "http://www.w3.org/1999/xhtml"];
    let mut wrong = Vec::new();
    for file in files("www", &["html", "css", "js", "mjs", "json", "svg"]) {
        let mut text = file.text.clone();
        for name in NAMES {
            text = text.replace(name, "");
        }
        for (number, line) in text.lines().enumerate() {
            let lower = line.to_lowercase();
            let address = ["http://", "https://", "ws://", "wss://", "src=\"//", "href=\"//", "url(//"];
            for what in REACHING.iter().filter(|w| line.contains(**w)).chain(address.iter().filter(|w| lower.contains(**w))) {
                wrong.push(format!("{}:{}: {what}", file.path, number + 1));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_top_of_the_repository_is_a_short_list() {
    const KNOWN: [&str; 12] = [
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "src",
        "www",
        "tests",
        "scripts",
        "package.json",
        "package-lock.json",
        "clippy.toml",
        "rustfmt.toml",
    ];
    let ignored = fs::read_to_string(root().join(".gitignore")).expect(".gitignore");
    let ignored: Vec<&str> = ignored.lines().map(|line| line.trim_matches('/')).collect();
    for entry in fs::read_dir(root()).expect("the top") {
        let name = entry.expect("an entry").file_name().to_string_lossy().into_owned();
        let known = KNOWN.contains(&name.as_str()) || ignored.contains(&name.as_str());
        assert!(known || name.starts_with('.') || name.starts_with("LICENSE-"), "{name} does not belong at the top");
    }
}
