//! The command line of Silkward: each command is a few lines that call the library.

use std::io::Read as _;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::Context as _;
use clap::{Parser, Subcommand};
use silkward::house::app::App;
use silkward::house::clock::Clock;
use silkward::house::config::Config;
use silkward::house::database::{Durability, FolderLock};
use silkward::house::{backup, serve};
use silkward::{demo, reckoning, records, rounds, sales, species, staff};
use tracing_subscriber::EnvFilter;

/// The working book of a tarantula breeding house.
#[derive(Parser)]
#[command(version, about)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Builds a made-up house with 18 months of work in its book, serves it, and prints how to sign in.
    Demo {
        /// An empty folder to build it in; a temporary one if left out.
        #[arg(long)]
        data: Option<PathBuf>,
        /// The address to listen on.
        #[arg(long, default_value = "127.0.0.1:7373")]
        listen: SocketAddr,
        /// The seed of the simulation: the same seed builds the same house.
        #[arg(long, default_value_t = 7)]
        seed: u64,
        /// Builds the house and leaves it unserved.
        #[arg(long)]
        build_only: bool,
    },
    /// Serves the house.
    Serve(Serving),
    /// Prints a one-time link with which the first owner sets the house up.
    Setup(Serving),
    /// Reads animals or cohorts from a CSV file, all of it or nothing.
    Import {
        /// What the file holds: animals or cohorts.
        kind: String,
        /// The file.
        file: PathBuf,
        /// Only says what would happen.
        #[arg(long)]
        dry_run: bool,
        /// How the file writes days: iso, dmy or mdy.
        #[arg(long, default_value = "iso")]
        dates: String,
        #[command(flatten)]
        folder: Folder,
    },
    /// Writes the book as CSV files into a folder.
    Export {
        /// The folder.
        dir: PathBuf,
        #[command(flatten)]
        folder: Folder,
    },
    /// Runs a reckoning on JSON from standard input: silkward reckon units < input.json
    Reckon {
        /// Which one.
        #[arg(required_unless_present = "list")]
        name: Option<String>,
        /// Names every reckoning, with a line on each.
        #[arg(long, conflicts_with_all = ["name", "explain"])]
        list: bool,
        /// Says what goes in, what comes out, by which formula and from which source.
        #[arg(long)]
        explain: bool,
    },
    /// Writes a checked copy of the house to a file, while it is served or not.
    Backup {
        /// The file to write; its checksum and link key stand beside it.
        file: PathBuf,
        #[command(flatten)]
        folder: Folder,
    },
    /// Puts a backup into an empty data folder, and erases again whoever was erased after it was made.
    Restore {
        /// The backup's file.
        file: PathBuf,
        /// A journal of erasures, such as that of the folder which this one replaces; may be given more than once.
        #[arg(long)]
        erased: Vec<PathBuf>,
        #[command(flatten)]
        folder: Folder,
    },
    /// Checks the file, the audit chain, the papers' fingerprints and the count ledgers.
    Verify {
        #[command(flatten)]
        folder: Folder,
    },
    /// Asks the served house whether it is ready; for health checks.
    Health {
        /// The address that it listens on.
        #[arg(long, env = "SILKWARD_LISTEN", default_value = "127.0.0.1:7373")]
        listen: SocketAddr,
    },
}

#[derive(clap::Args)]
struct Folder {
    /// The folder that holds the house.
    #[arg(long, env = "SILKWARD_DATA", default_value = "data")]
    data: PathBuf,
}

#[derive(clap::Args)]
struct Serving {
    #[command(flatten)]
    folder: Folder,
    /// The address to listen on.
    #[arg(long, env = "SILKWARD_LISTEN", default_value = "127.0.0.1:7373")]
    listen: SocketAddr,
    /// The address that browsers use, such as <https://book.example.org>; needed unless only this machine's browsers come.
    #[arg(long, env = "SILKWARD_PUBLIC_URL")]
    public_url: Option<String>,
}

impl Serving {
    fn config(&self) -> anyhow::Result<Config> {
        Ok(Config::new(self.folder.data.clone(), self.listen, self.public_url.as_deref())?)
    }
}

impl Folder {
    /// A configuration for commands that serve nothing.
    fn config(&self) -> anyhow::Result<Config> {
        Ok(Config::new(self.data.clone(), SocketAddr::from(([127, 0, 0, 1], 7373)), None)?)
    }

    async fn open(&self) -> anyhow::Result<App> {
        App::open(self.config()?, Clock::System, Durability::Full).await
    }
}

fn main() -> ExitCode {
    let cli = Cli::parse();
    start_log(matches!(cli.command, Command::Serve(_)));
    match run(cli.command) {
        Ok(code) => code,
        Err(error) => {
            eprintln!("silkward: {error:#}");
            ExitCode::from(1)
        }
    }
}

/// Logs go to standard error: as JSON when serving, as text otherwise. `SILKWARD_LOG` sets the level.
fn start_log(json: bool) {
    let filter = EnvFilter::try_from_env("SILKWARD_LOG").unwrap_or_else(|_| EnvFilter::new(if json { "info" } else { "warn" }));
    let log = tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr);
    if json { log.json().init() } else { log.with_ansi(false).init() }
}

#[tokio::main]
async fn run(command: Command) -> anyhow::Result<ExitCode> {
    match command {
        Command::Demo { data, listen, seed, build_only } => demo::run(data, listen, seed, build_only).await?,
        Command::Serve(serving) => {
            let config = serving.config()?;
            let _lock = FolderLock::take(&config.data)?;
            let app = App::open(config, Clock::System, Durability::Full).await?;
            serve_house(app).await?;
        }
        Command::Setup(serving) => {
            let app = App::open(serving.config()?, Clock::System, Durability::Full).await?;
            println!(
                "Open this link within 24 hours to become the house's owner. It works once:\n{}",
                staff::setup::make_link(&app).await?
            );
            app.database.close().await;
        }
        Command::Import { kind, file, dry_run, dates, folder } => return import(&kind, &file, dry_run, &dates, &folder).await,
        Command::Export { dir, folder } => {
            let app = folder.open().await?;
            records::export::write_all(&app, &dir).await?;
            println!("The book is in {}.", dir.display());
            app.database.close().await;
        }
        Command::Reckon { name, list, explain } => return reckon(&name.unwrap_or_default(), list, explain),
        Command::Backup { file, folder } => println!("{}", backup::write(&folder.config()?, &file).await?),
        Command::Restore { file, erased, folder } => println!("{}", records::restore::run(&folder.config()?, &file, &erased).await?),
        Command::Verify { folder } => return verify(&folder).await,
        Command::Health { listen } => return Ok(if serve::is_ready(listen).await { ExitCode::SUCCESS } else { ExitCode::from(1) }),
    }
    Ok(ExitCode::SUCCESS)
}

/// Serves until asked to stop, keeping the day planned and buyers no longer than needed meanwhile.
async fn serve_house(app: App) -> anyhow::Result<()> {
    let listener = serve::listen(&app).await?;
    // A new book gets the starter library, one from before the texts of care sheets gets them.
    species::store::texts::bring_texts(&app).await.map_err(|error| anyhow::anyhow!("the starter library could not be added: {error}"))?;
    eprintln!("Serving {} at {}", app.site().name, app.config.public_url);
    let keepers = [tokio::spawn(rounds::keep_planned(app.clone())), tokio::spawn(sales::keep_buyers(app.clone()))];
    let served = serve::run(app, listener, serve::stop_signal()).await;
    keepers.iter().for_each(tokio::task::JoinHandle::abort);
    served
}

async fn import(kind: &str, file: &std::path::Path, dry_run: bool, dates: &str, folder: &Folder) -> anyhow::Result<ExitCode> {
    let bytes = std::fs::read(file).with_context(|| format!("cannot read {}", file.display()))?;
    let app = folder.open().await?;
    let report = records::import::run(&app, kind.parse()?, dates.parse()?, bytes, dry_run).await?;
    println!("{report}");
    app.database.close().await;
    Ok(if report.is_sound() { ExitCode::SUCCESS } else { ExitCode::from(2) })
}

/// The largest input of a reckoning, in bytes: a million rows fit.
const LARGEST_INPUT: u64 = 256 << 20;

/// Exit status 2 and one line when the input can't be answered.
fn reckon(name: &str, list: bool, explain: bool) -> anyhow::Result<ExitCode> {
    if list {
        for entry in reckoning::entries() {
            println!("{:<20} {}", entry.name(), entry.about);
        }
        return Ok(ExitCode::SUCCESS);
    }
    let answered = reckoning::entry(name).map_err(|error| error.to_string()).and_then(|entry| {
        if explain {
            return Ok(entry.explained());
        }
        let input = reckoning_input().map_err(|error| error.to_string())?;
        reckoning::reckon(name, &input).map(|answer| format!("{answer}\n")).map_err(|error| match error {
            reckoning::ReckonError::Input(_) if input.len() as u64 >= LARGEST_INPUT => {
                format!("the input is larger than {} MiB; give fewer rows", LARGEST_INPUT >> 20)
            }
            error => error.to_string(),
        })
    });
    match answered {
        Ok(answer) => {
            print!("{answer}");
            Ok(ExitCode::SUCCESS)
        }
        Err(error) => {
            eprintln!("silkward reckon: {error}");
            Ok(ExitCode::from(2))
        }
    }
}

/// Standard input, cut off where it is larger than any sound input.
fn reckoning_input() -> anyhow::Result<String> {
    let mut bytes = Vec::new();
    std::io::stdin().take(LARGEST_INPUT).read_to_end(&mut bytes).context("standard input can't be read")?;
    Ok(match String::from_utf8(bytes) {
        Ok(text) => text,
        // Only a character that was cut in two may be left out.
        Err(error) if error.as_bytes().len() as u64 == LARGEST_INPUT => String::from_utf8_lossy(error.as_bytes()).into_owned(),
        Err(_) => anyhow::bail!("the input is not UTF-8 text"),
    })
}

async fn verify(folder: &Folder) -> anyhow::Result<ExitCode> {
    let app = folder.open().await?;
    let report = records::verify::run(&app).await?;
    app.database.close().await;
    for finding in &report.findings {
        println!("FAULT: {finding}");
    }
    println!(
        "{} fault(s). The audit trail has {} rows; its newest seal is {}",
        report.findings.len(),
        report.audit_rows,
        report.audit_seal
    );
    Ok(if report.findings.is_empty() { ExitCode::SUCCESS } else { ExitCode::from(1) })
}
