//! Any text is a recipe or refused; a recipe outlives its writing, and a small scan can be lifted with it.
#![no_main]

use barewash::pipeline::{Recipe, Session};

libfuzzer_sys::fuzz_target!(|text: &str| {
    let Ok(recipe) = Recipe::from_json(text) else { return };
    let again = Recipe::from_json(&recipe.to_json().to_string()).expect("what was written is read");
    assert_eq!(recipe, again, "writing and reading changes a recipe");
    let mut session = Session::open(&barewash_fuzz::scan()).expect("a sound scan");
    // Of another page, say.
    if session.set_recipe(recipe).is_err() {
        return;
    }
    while !session.finished() {
        session.step().expect("memory");
    }
});
