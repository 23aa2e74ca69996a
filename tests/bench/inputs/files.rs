//! What comes from files and pipes: jobs, baths, stations, supply profiles, meshes, and the lines
//! that go to a keeper.

use super::die::Die;
use nightvat::shape::mesh::{Mesh, unit};
use nightvat::spec::{self, Shelf};
use nightvat::supply::keeper::Request;

type Parse = Box<dyn FnMut(&mut Die) -> bool>;

macro_rules! profile {
    ($name:literal) => {
        include_bytes!(concat!("../../../profiles/", $name))
    };
}

/// Small meshes: text, and bytes of two kinds.
const TEXT_STL: &[u8] = b"solid s\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\n\
    vertex 0 1 0\nendloop\nendfacet\nfacet normal 0 0 -1\nouter loop\nvertex 0 0 0\n\
    vertex 0 1 0\nvertex 1 0 0\nendloop\nendfacet\nendsolid s\n";

/// A text out of hurt bytes: what is no text is refused before any parser sees it.
fn text(die: &mut Die, good: &[&[u8]]) -> String {
    String::from_utf8_lossy(&die.hurt(good)).into_owned()
}

pub(crate) fn job() -> Parse {
    // The mesh of the demo job has a parser of its own here: it is another wire.
    let heads = String::from_utf8_lossy(profile!("jobs/seed-heads.toml")).replace(
        "kind = \"mesh\", file = \"pod.stl\", unit = \"mm\"",
        "kind = \"wire\", diameter = \"2 mm\", length = \"90 mm\"",
    );
    let shelf = Shelf::disk();
    Box::new(move |die| {
        let good: [&[u8]; 2] = [profile!("jobs/one-stem.toml"), heads.as_bytes()];
        let text = text(die, &good);
        let read = spec::job::read("profiles/jobs/generated.toml", &text, &shelf);
        // What reads well is also reckoned with.
        read.map(|job| {
            job.pieces
                .iter()
                .map(|it| it.form.body())
                .filter(Result::is_ok)
                .count()
        })
        .is_ok()
    })
}

pub(crate) fn bath() -> Parse {
    let good: [&[u8]; 2] = [
        profile!("baths/acid-copper-bright.toml"),
        profile!("baths/acid-copper-plain.toml"),
    ];
    Box::new(move |die| spec::bath::read("generated.toml", &text(die, &good)).is_ok())
}

pub(crate) fn station() -> Parse {
    let good: [&[u8]; 2] = [
        profile!("stations/demo.toml"),
        b"name = \"tank\"\nsupply = \"scpi-standard\"\nport = \"/dev/ttyS0\"\n[limits]\n\
          current = \"3 A\"\nvoltage = \"2.5 V\"\n[tank]\nvolume = \"6 L\"\n[[sensor]]\n\
          measures = \"temperature\"\nfile = \"/t\"\n[resume]\nwithin = \"10 min\"\n[[tell]]\n\
          command = [\"a\", \"b\"]\nabout = \"wake\"\n[hourly]\ncommand = [\"c\"]\n",
    ];
    let shelf = Shelf::disk();
    Box::new(move |die| spec::station::read("generated.toml", &text(die, &good), &shelf).is_ok())
}

pub(crate) fn supply() -> Parse {
    let good: [&[u8]; 3] = [
        profile!("supplies/scpi-standard.toml"),
        profile!("supplies/scpi-standard-two-channel.toml"),
        profile!("supplies/terse-fixed.toml"),
    ];
    Box::new(move |die| spec::supply::read("generated.toml", &text(die, &good)).is_ok())
}

/// Four triangles in bytes, as their format has them.
fn tetrahedron(head: &[u8]) -> Vec<u8> {
    let corners: [[f32; 3]; 4] = [[0., 0., 0.], [1., 0., 0.], [0., 1., 0.], [0., 0., 1.]];
    let mut bytes = head.to_vec();
    bytes.resize(80, 0);
    bytes.extend(4_u32.to_le_bytes());
    for face in [[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]] {
        bytes.extend([0_u8; 12]);
        for corner in face {
            bytes.extend(corners[corner].iter().flat_map(|it: &f32| it.to_le_bytes()));
        }
        bytes.extend([0_u8; 2]);
    }
    bytes
}

pub(crate) fn mesh() -> Parse {
    let good = [
        TEXT_STL.to_vec(),
        tetrahedron(b"bytes"),
        tetrahedron(b"solid, and yet bytes"),
    ];
    let unit = unit("mm").expect("a unit");
    Box::new(move |die| {
        let good: Vec<&[u8]> = good.iter().map(Vec::as_slice).collect();
        let mesh = Mesh::from_stl(&die.hurt(&good), unit);
        mesh.is_ok_and(|mesh| mesh.survey().is_ok() & mesh.body().is_ok())
    })
}

pub(crate) fn keeper() -> Parse {
    let good: [&[u8]; 4] = [
        b"\"renew\"",
        b"\"off\"",
        b"{\"arm\":{\"max_current\":0.5,\"max_voltage\":2.5,\"end_within\":3600.0,\
          \"lease\":5.0,\"mark\":{\"run\":1,\"at\":5,\"before\":0.0}}}",
        b"{\"exchange\":{\"id\":7,\"exchange\":{\"send\":[79,10],\"end\":\"none\",\
          \"first_byte\":0.5,\"between\":0.1,\"gap\":0.05,\"raises\":{\"current\":0.3,\
          \"voltage\":null,\"output\":true}}}}",
    ];
    Box::new(move |die| serde_json::from_slice::<Request>(&die.hurt(&good)).is_ok())
}
