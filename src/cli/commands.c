// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/cli.h"

// Three programs share this table. Each runs the commands that were built into it; the others stand
// in it to be listed, and are handed on to the program that has them.
#if defined(BENCHTALLY_REPORTS)
#define IN_CORE(run)    NULL, NULL
#define IN_REPORTS(run) run, NULL
#define IN_SERVE(run)   NULL, NULL
#elif defined(BENCHTALLY_SERVE)
#define IN_CORE(run)    NULL, NULL
#define IN_REPORTS(run) NULL, NULL
#define IN_SERVE(run)   run, NULL
#else
#define IN_CORE(run)    run, NULL
#define IN_REPORTS(run) NULL, "benchtally-reports"
#define IN_SERVE(run)   NULL, "benchtally-serve"
#endif

const Command cli_commands[] = {
    {"rubric check", "FILE...", "Check rubric files and say every fault, each with its place.",
     "Example:\n  benchtally rubric check rubrics/forearm-two-bones.yaml",
     IN_CORE(cli_rubric_check)},
    {"rubric add", "FILE...", "Put rubric editions in the book.",
     "The same text again changes nothing. A changed text needs a new edition number.\n\n"
     "Example:\n  benchtally rubric add rubrics/forearm-two-bones.yaml",
     IN_CORE(cli_rubric_add)},
    {"rubric list", "", "List the rubric editions in the book.",
     "Example:\n  benchtally rubric list", IN_CORE(cli_rubric_list)},
    {"person add", "[CODE]", "Add a trainee, an assessor or a director; or many from a file.",
     "The code stands in every record; the name is kept apart, in one place.\n"
     "A file is CSV with the columns code, name, role, level, cohort.\n\n"
     "Examples:\n  benchtally person add T-001 --role trainee --name \"Ada Example\" --level "
     "\"year 2\"\n"
     "  benchtally person add --from sample_sessions/people.csv",
     IN_CORE(cli_person_add)},
    {"person amend", "CODE", "Change a person's level, cohort or name, as when a year has passed.",
     "What is not named stays as it was. The change is on the book's chain, with who made it; a "
     "former\nname is not kept. `--level \"\"` takes the level away.\n\n"
     "Example:\n  benchtally person amend T-001 --level \"year 3\"",
     IN_CORE(cli_person_amend)},
    {"person list", "", "List the people in the book.",
     "Example:\n  benchtally person list --role trainee", IN_CORE(cli_person_list)},
    {"person account", "CODE", "Let a person log in to the web service, or no longer.",
     "Asks for a passphrase of 10 characters or more (assessors and trainees may have a lab PIN of "
     "6\ndigits or more), or reads it from standard input. Once a director has an account, the "
     "rest is done\nin the browser.\n\nExample:\n  benchtally person account D-1",
     IN_CORE(cli_person_account)},
    {"record", "SESSION", "Record a session live at the keyboard.",
     "If the session was begun before and not closed, recording goes on where it stopped.\n\n"
     "Example:\n  benchtally record S-2026-031 --trainee T-001 --assessor A-01 --rubric "
     "forearm-two-bones",
     IN_CORE(cli_record)},
    {"import", "FILE...", "Take in events from tidy CSV or JSON Lines; all or nothing per file.",
     "Importing the same file again adds nothing.\n\nExample:\n  benchtally import "
     "sample_sessions/clean.csv",
     IN_CORE(cli_import)},
    {"sessions", "", "List sessions with their outcome.",
     "Example:\n  benchtally sessions --trainee T-001", IN_CORE(cli_sessions)},
    {"log", "SESSION", "Show what was logged in a session.",
     "Shows the effective log; with --all every record with its corrections.\n\n"
     "Example:\n  benchtally log S-2026-031 --all",
     IN_CORE(cli_log)},
    {"strike", "SESSION EVENT", "Take an event out of a session's log, with a reason.",
     "EVENT is the number that `benchtally log` shows. Nothing is deleted: the correction is a "
     "record of its own.\n\n"
     "Example:\n  benchtally strike S-2026-031 14 --reason \"logged twice\"",
     IN_CORE(cli_strike)},
    {"amend", "SESSION EVENT", "Correct an event of a session's log, with a reason.",
     "What is not named stays as it was. `--detail length=` takes a detail away.\n\n"
     "Example:\n  benchtally amend S-2026-031 14 --detail length=16 --reason \"misread the gauge\"",
     IN_CORE(cli_amend)},
    {"decide", "SESSION", "Name the observation that decides a session's result, with a reason.",
     "Where none is named, the first closed live observation decides, else the first closed video\n"
     "one; a trainee's own never does. `benchtally sessions --session SESSION` lists them.\n\n"
     "Example:\n  benchtally decide S-2026-031 --assessor A-02 --mode video --reason \"the live "
     "view was blocked\"",
     IN_CORE(cli_decide)},
    {"score", "[SESSION...]", "Show what won and lost points, with the reason and the second.",
     "Without SESSION: one line for each observation in the book.\n\n"
     "Examples:\n  benchtally score S-2026-031\n"
     "  benchtally score --rubric rubrics/arch-bars.yaml --events events.csv --json",
     IN_CORE(cli_score)},
    {"workbook", "[TRAINEE...]", "Write a progress workbook for each trainee.",
     "Example:\n  benchtally workbook T-001 --out workbooks", IN_REPORTS(cli_workbook)},
    {"review", "SESSION", "Write the trainee's page for one session, for a browser and for print.",
     "SESSION.html and SESSION.pdf: the outcome, what cost most, the timeline, the order drawn, "
     "the\n"
     "ledger with the second of every entry.\n\n"
     "Example:\n  benchtally review S-2026-031 --out reviews",
     IN_REPORTS(cli_review)},
    {"cohort", "", "Write the director's workbook: who needs what, and what fails everyone.",
     "Trainees by need, competencies, checkpoints, errors, assessors, standards, curves, and how "
     "each\nfigure is made. With --suppress it can be shared: nobody stands alone in it.\n\n"
     "Examples:\n  benchtally cohort --out cohort.xlsx\n"
     "  benchtally cohort --cohort 2026 --from 2026-01-01 --suppress 5 --out to-share.xlsx",
     IN_REPORTS(cli_cohort)},
    {"reliability", "",
     "Say how sure the scores are, and how many assessors and sessions it takes.",
     "From the book: how checkpoints hang together, how much of a score is the trainee, the "
     "assessor,\nthe day; what other numbers of assessors and sessions would reach; who stands so "
     "near the pass\nmark that another session might decide otherwise.\n"
     "From a table: one score a row in the column \"score\"; the design names the other columns, "
     "the\none that is measured first; \"x\" is crossing, \":\" nesting.\n\n"
     "Examples:\n  benchtally reliability --rubric forearm-two-bones\n"
     "  benchtally reliability --table scores.csv --design \"trainee x (assessor:task)\" --cut 70",
     IN_REPORTS(cli_reliability)},
    {"agreement", "", "Whether assessors of the same sessions agree, and where they do not.",
     "Over the sessions of a rubric that two or more observed; of one session with its times; or "
     "on\n"
     "a table of ratings with the columns subject, rater, rating and perhaps item.\n\n"
     "Examples:\n  benchtally agreement --rubric ankle-lag-plate\n"
     "  benchtally agreement --session larkfield-08 --tolerance 10s\n"
     "  benchtally agreement --table ratings.csv --scale ordinal --weights quadratic",
     IN_REPORTS(cli_agreement)},
    {"curve", "[TRAINEE...]",
     "How trainees get on: learning curves, and when the standard is shown.",
     "From the book: the cohort's curve, each trainee's start and gain, the attempt at which the "
     "mark "
     "is\nexpected, and who has shown the standard or is leaving it; for trainees by code, every "
     "attempt.\nFrom a table: one attempt a row in the columns trainee, attempt, value and perhaps "
     "passed and\nexercise; times in seconds with --value time.\n\n"
     "Examples:\n  benchtally curve --rubric forearm-two-bones\n"
     "  benchtally curve LK-02 --rubric forearm-two-bones\n"
     "  benchtally curve --table attempts.csv --value time --standard 12:30",
     IN_REPORTS(cli_curve)},
    {"standard angoff", "", "Set a pass mark by what judges say of each item (Angoff).",
     "The table has a row for each judge and item: judge, item, percent (of just adequate trainees "
     "who\nwould do it), and it may be points (the item's weight) and round (1, 2 ...). Without "
     "--scores the\nmark is held against the book's scores where a rubric is named.\n\n"
     "Example:\n  benchtally standard angoff --table angoff.csv --rubric forearm-two-bones",
     IN_REPORTS(cli_standard_angoff)},
    {"standard ebel", "", "Set a pass mark by the relevance and difficulty of items (Ebel).",
     "The table has a row for each cell of the grid: relevance, difficulty, items (how many), "
     "percent,\nand it may be judge, for a grid of each judge's own.\n\n"
     "Example:\n  benchtally standard ebel --table ebel.csv --scores scores.csv",
     IN_REPORTS(cli_standard_ebel)},
    {"standard contrasting", "",
     "Set a pass mark between competent and not yet competent trainees.",
     "Who is competent stands in the table (trainee, group, score), or in the book: the level of a "
     "trainee,\nor a rating from some number on.\n\n"
     "Examples:\n  benchtally standard contrasting --rubric forearm-two-bones --group-by level "
     "--competent \"year 4,year 5\"\n"
     "  benchtally standard contrasting --table groups.csv --competent senior --take midpoint",
     IN_REPORTS(cli_standard_contrasting)},
    {"standard borderline", "", "Set a pass mark at the scores of borderline performances.",
     "The global rating stands in the table (trainee, rating, score), or is a rating of the book's "
     "rubric.\n\n"
     "Example:\n  benchtally standard borderline --rubric forearm-two-bones --rating flow "
     "--borderline 3",
     IN_REPORTS(cli_standard_borderline)},
    {"standard hofstee", "", "Set a pass mark between what judges accept and the scores (Hofstee).",
     "The table has a row for each judge: judge, least_cut, most_cut, least_not_yet, most_not_yet, "
     "all in\npercent. The scores are the book's, or of --scores (trainee, score and, it may be, "
     "outcome).\n\n"
     "Example:\n  benchtally standard hofstee --table hofstee.csv --rubric forearm-two-bones",
     IN_REPORTS(cli_standard_hofstee)},
    {"standard list", "", "List the pass marks on record.",
     "Example:\n  benchtally standard list --rubric forearm-two-bones",
     IN_REPORTS(cli_standard_list)},
    {"standard adopt", "ID", "Adopt a pass mark that is on record, with a reason.",
     "Shows what it would have done to the last year's decisions. Scoring keeps following the\n"
     "rubric's own `pass`; the next edition should carry the mark.\n\n"
     "Example:\n  benchtally standard adopt 3 --reason \"agreed by the faculty on 4 March\"",
     IN_REPORTS(cli_standard_adopt)},
    {"serve", "", "Serve the lab's tablets and desktops in any browser on the network.",
     "Listens on this machine alone unless told otherwise; other addresses need TLS, or\n"
     "--plain-http-on-lan.\n\n"
     "Examples:\n  benchtally serve\n"
     "  benchtally serve --make-cert lab-cert\n"
     "  benchtally serve --listen 0.0.0.0 --cert lab-cert/server.pem --key lab-cert/server.key",
     IN_SERVE(cli_serve)},
    {"verify", "[FILE]", "Check every record of the book against its chain.",
     "FILE is another book, such as a backup.\n\nExample:\n  benchtally verify",
     IN_CORE(cli_verify)},
    {"backup", "FILE", "Make a consistent, checked copy of the book, even while recording goes on.",
     "Example:\n  benchtally backup book-copy.db", IN_CORE(cli_backup)},
    {0}};
