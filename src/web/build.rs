//! Gives the static files names that change with their content.

use std::error::Error;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs};

use sha2::{Digest, Sha256};

type Outcome<T> = Result<T, Box<dyn Error>>;

fn main() -> Outcome<()> {
    static_files(&PathBuf::from(env::var("OUT_DIR")?))
}

/// A static file on its way into the program.
struct Asset {
    /// As it stands under `static/`, without its folder.
    name: String,
    bytes: Vec<u8>,
}

/// Writes `assets.rs`: a constant with the address of every file, and `find` for its bytes. The
/// style sheets are joined in the order of their names, last, because they name hashed fonts.
fn static_files(out: &Path) -> Outcome<()> {
    println!("cargo::rerun-if-changed=../../static");
    let mut assets = Vec::new();
    for folder in ["../../static", "../../static/js", "../../static/fonts"] {
        assets.extend(read(Path::new(folder))?);
    }
    let sheets = read(Path::new("../../static/css"))?;
    let mut css = sheets.into_iter().try_fold(String::new(), |css, sheet| {
        String::from_utf8(sheet.bytes).map(|text| css + &text + "\n")
    })?;

    let (mut constants, mut arms) = (String::new(), String::new());
    for asset in assets {
        let hashed = keep(out, &asset, &mut constants, &mut arms)?;
        css = css.replace(&format!("url(\"{}\")", asset.name), &format!("url(\"{hashed}\")"));
    }
    let css = Asset { name: "app.css".to_owned(), bytes: css.into_bytes() };
    keep(out, &css, &mut constants, &mut arms)?;

    let find = format!(
        "/// The media type and the bytes of a static file, by its hashed name.\n\
         pub fn find(name: &str) -> Option<(&'static str, &'static [u8])> {{\n\
         Some(match name {{\n{arms}_ => return None,\n}})\n}}\n"
    );
    fs::write(out.join("assets.rs"), constants + &find)?;
    Ok(())
}

/// The files of one folder in the order of their names.
fn read(folder: &Path) -> Outcome<Vec<Asset>> {
    let mut assets = Vec::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_file() {
            let name = path.file_name().and_then(|name| name.to_str());
            let name = name.ok_or("a static file has a name that is not UTF-8")?.to_owned();
            assets.push(Asset { name, bytes: fs::read(&path)? });
        }
    }
    assets.sort_by(|a, b| a.name.cmp(&b.name));
    Ok(assets)
}

/// Keeps one file under its hashed name, which it returns.
fn keep(out: &Path, asset: &Asset, constants: &mut String, arms: &mut String) -> Outcome<String> {
    let (stem, extension) = asset.name.rsplit_once('.').ok_or("a static file has no extension")?;
    let mime = match extension {
        "css" => "text/css; charset=utf-8",
        "js" => "text/javascript; charset=utf-8",
        "svg" => "image/svg+xml",
        "txt" => "text/plain; charset=utf-8",
        "woff2" => "font/woff2",
        other => return Err(format!("{}: no media type for .{other}", asset.name).into()),
    };
    let digest = Sha256::digest(&asset.bytes);
    let hash = digest.iter().take(8).fold(String::new(), |hex, byte| hex + &format!("{byte:02x}"));
    let hashed = format!("{stem}.{hash}.{extension}");
    fs::write(out.join(&hashed), &asset.bytes)?;

    let constant = asset.name.replace(['-', '.'], "_").to_uppercase();
    writeln!(constants, "/// The address of `{}`.", asset.name)?;
    writeln!(constants, "pub const {constant}: &str = \"/static/{hashed}\";")?;
    writeln!(
        arms,
        "\"{hashed}\" => (\"{mime}\", include_bytes!(concat!(env!(\"OUT_DIR\"), \"/{hashed}\")).as_slice()),"
    )?;
    Ok(hashed)
}
