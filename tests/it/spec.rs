use nightvat::spec::{self, Shelf};

fn show(text: &str) {
    match spec::job::read("job.toml", text, &Shelf::disk()) {
        Ok(j) => println!("{j:#?}"),
        Err(p) => println!("{p}"),
    }
}
#[test]
fn probe() {
    let disk = Shelf::disk();
    for s in [
        spec::job::open("seed-heads", &Shelf::embedded()).map(|j| j.pieces.len().to_string()),
        spec::job::open("one-stem", &disk).map(|j| format!("{j:?}")),
        spec::station::open("demo", &disk).map(|j| format!("{j:?}")),
        spec::bath::open("acid-copper-bright", &disk).map(|j| format!("{j:?}")),
        spec::bath::open("acid-copper-plain", &disk).map(|j| format!("{:?}", j.components)),
        spec::job::open("seed-hads", &disk).map(|j| format!("{j:?}")),
        spec::job::open("/tmp", &disk).map(|j| format!("{j:?}")),
        spec::job::open("/dev/zero", &disk).map(|j| format!("{j:?}")),
        spec::job::open("profiles/jobs/seed-heads.toml", &disk).map(|j| format!("{}", j.name)),
    ] {
        match s {
            Ok(s) => println!("{s}"),
            Err(e) => println!("{e}"),
        }
    }
    for t in [
        "{ kind = \"sphere\", diameter = \"22 mm\" }",
        "{ kind = \"sphere\", diameter = 22 }",
        "{ kind = \"spher\", diameter = 22 }",
        "{ diameter = 22 }",
        "sphere",
        "[]",
        "[{kind=\"leaf\"},{kind=\"ring\",across=\"1 mm\",wire=\"2 mm\"}, 3]",
        "\"sphere\"",
        "{ kind = \"area\", area = \"4 cm2\", like = { kind = \"area\", area = \"4 m\"}, count = 0 }",
        "{ kind = \"mesh\", file = \"no.stl\", unit = \"mm\" }",
        "{ kind = \"mesh\", file = \"Cargo.toml\", unit = \"mm\" }",
        "",
        "{ kind = \"sphere\", diameter = \"22 mm\" } x",
    ] {
        println!("----- {t}");
        match spec::read_form::read_text(t, &disk) {
            Ok(s) => println!("{s:?}"),
            Err(e) => println!("{e}"),
        }
    }
    show("");
    show(
        r#"
name = "a/b"
bath = "acid-coper-bright"
[target]
thickness = "250 mm"
until = "pice"
mass = "3 g"
[current]
density = "1.5 A"
[current.strike]
density = 0.3
for = "40"
[[piece]]
name = "piece"
surface = "mtal"
contact = "4 mm2"
shape = { kind = "sphere", diameter = "22 m" }
texture = 0.5
[[piece]]
name = "piece"
surface = "metal"
contact = "4 mm2"
shape = { kind = "sphere", diametre = "22 mm", radius = "2 mm" }
[[look]]
at = "3 um"
[[look]]
at = "3 um"
"#,
    );
}
