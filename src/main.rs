fn main() -> std::process::ExitCode {
    brimline::cli::run()
}
