#include "cli/journal_command.hpp"

#include <fmt/format.h>

#include <deque>
#include <memory>

#include "app/journal_add.hpp"
#include "app/journal_report.hpp"
#include "app/words.hpp"
#include "cli/files.hpp"
#include "cli/journal_file.hpp"
#include "cli/line_source.hpp"
#include "cli/local_zone.hpp"
#include "decode/units.hpp"
#include "journal/clock_check.hpp"

namespace tillwrap::cli {

namespace {

constexpr std::size_t kFoldedOnAdd = 20000;  // lines up to which `add` says what is odd about the new one
constexpr std::size_t kMostBadLines = 20;
constexpr std::size_t kMostShown = 20;
constexpr std::int64_t kClockBack_ms = 60'000;

struct Words {
  std::string journal;
  app::SaidEvent said;
  std::vector<std::string> files;
  std::string out, pack, what;
  std::size_t last = 0;
  bool json = false, salvage = false;
};

std::string lines_words(std::size_t n) { return fmt::format("{} line{}", n, n == 1 ? "" : "s"); }

std::string note(const std::string& text) { return app::wrapped("note: " + text, 80, "  ") + "\n"; }

int add(const Words& words) {
  app::SaidEvent said = words.said;
  if (said.by.empty()) said.by = device_name();
  const std::string path = journal_path(words.journal);
  const std::int64_t now = now_us();
  // A word of no use must not leave an empty journal behind: only taken_back looks at the lines there are.
  const auto ids_like = [&](const std::string& part) {
    store::Store there(path, store::Open::read);
    std::vector<std::string> ids;
    for (const journal::Line& line : there.with_id_like(part, 2)) ids.push_back(line.id);
    return ids;
  };
  const app::NewLine made = app::new_line(said, now, local_zone(), random_bytes(), catalogue::builtin(), ids_like);
  store::Store store(path, store::Open::add);
  const auto latest = store.latest_written();
  store.add(made.line);
  std::string when = journal::moment_text(made.line.at);
  when[10] = ' ';
  std::string text = fmt::format("{}, {} {} ({})\n", app::event_words(made.line), when.substr(0, 16), when.substr(19),
                                 app::short_id(made.line.id));
  for (const std::string& one : made.notes) text += note(one);
  if (latest && journal::made_ms(latest->id) - journal::made_ms(made.line.id) > kClockBack_ms) {
    const std::int64_t back_us = 1000 * (journal::made_ms(latest->id) - journal::made_ms(made.line.id));
    text += note(fmt::format("the latest line, by \"{}\", was written {} after this one: {}", latest->by,
                             journal::length_text(back_us),
                             latest->by == said.by ? "this clock went back, or was ahead then; check the time here"
                                                   : "one of the two clocks is wrong"));
  }
  if (store.size() <= kFoldedOnAdd) {
    journal::Fold fold(store.survey());
    store.each([&](const journal::Line& line) { fold.add(line); });
    for (const journal::Remark& remark : fold.take().remarks) {
      if (remark.id == made.line.id &&
          (remark.kind == journal::Remark::Kind::contradiction || remark.kind == journal::Remark::Kind::told_twice))
        text += note(remark.text);
    }
  }
  return print(text);
}

int list(const Words& words) {
  store::Store store(journal_path(words.journal), store::Open::read);
  if (!words.what.empty() && journal::form_of(words.what) == nullptr) {
    std::vector<std::string> known;
    for (const journal::Form& form : journal::forms()) known.emplace_back(form.name);
    const auto near = decode::nearest(words.what, known);
    throw decode::InputError("command line", {1, 1}, "--what: there is no event \"" + words.what.substr(0, 60) + "\"",
                             near ? "did you mean \"" + *near + "\"?" : "see: tillwrap journal add --help");
  }
  const journal::Survey survey = store.survey();
  app::JournalList rows(survey);
  std::deque<std::string> kept;  // --last
  bool failed = false;
  bool first = true;
  const auto say = [&](const std::string& text) { failed = failed || print(text) != 0; };
  const auto show = [&](const journal::Line& line) {
    say(words.json ? (first ? "\n  " : ",\n  ") + app::line_json(line, survey) : rows.row(line));
    first = false;
  };
  if (words.json) say("{\"format\": \"tillwrap-journal-1\", \"lines\": [");
  store.each([&](const journal::Line& line) {
    if (failed) return;
    if (!words.pack.empty() && line.words("pack") != words.pack && line.words("of") != words.pack) return;
    if (!words.what.empty() && line.what != words.what) return;
    if (words.last == 0) {
      show(line);
      return;
    }
    kept.push_back(line.text);
    if (kept.size() > words.last) kept.pop_front();
  });
  for (const std::string& text : kept) show(journal::parse_line(text, words.journal, 1));
  if (words.json) say("\n]}\n");
  if (!words.json && first) say("no lines\n");
  return failed ? 2 : 0;
}

int export_lines(const Words& words) {
  const std::string path = journal_path(words.journal);
  store::Store store(path, store::Open::read);
  if (words.salvage && words.out.empty())
    throw decode::InputError("command line", {1, 1}, "--salvage without a file", "name one: --out FILE");
  if (words.out.empty()) {
    bool failed = false;
    store.each_text([&](const std::string& line) { failed = failed || print(line + "\n") != 0; });
    return failed ? 2 : 0;
  }
  if (same_file(path, words.out))
    throw decode::InputError(words.out, {1, 1}, "this is the journal itself", "name another file; nothing was changed");
  FileWriter out(words.out);
  std::size_t count = 0;
  const auto keep = [&](const std::string& line) {
    out.append(line);
    out.append("\n");
    ++count;
  };
  std::string lost;
  if (words.salvage) {
    const std::size_t n = store.salvage(keep);
    lost = n == 0 ? "none is missing before the last of them\n"
                  : fmt::format("{} before the last of them could not be read\n", lines_words(n));
  } else {
    store.each_text(keep);
  }
  out.commit();
  return print(fmt::format("wrote {} to {}\n", lines_words(count), words.out) + lost);
}

std::string added_words(const store::Added& added) {
  std::string text = fmt::format("{} added, {} known already\n", lines_words(added.fresh), added.known);
  if (added.differing > 0) {
    std::string ids;
    for (const std::string& id : added.differing_ids) ids += (ids.empty() ? "" : ", ") + app::short_id(id);
    text +=
        note(fmt::format("{} an id that is there with other content ({}{}): all are kept, see tillwrap journal verify",
                         added.differing == 1 ? "one line has" : fmt::format("{} lines have", added.differing), ids,
                         added.differing > added.differing_ids.size() ? ", ..." : ""));
  }
  return text;
}

std::string not_used_words(const NotUsed& lines) {
  std::string which;
  for (const auto& [version, n] : lines.later)
    which += fmt::format("{}{} of format version {}", which.empty() ? "" : ", ", lines_words(n), version);
  if (lines.unknown > 0)
    which += fmt::format("{}{} with an event unknown here", which.empty() ? "" : ", ", lines_words(lines.unknown));
  if (which.empty()) return {};
  return note(
      fmt::format("{}: kept untouched and exported as written, but not used here, which knows version {}. Use a "
                  "later tillwrap with this journal to have them count; journal verify lists them",
                  which, journal::kVersion));
}

// Both take files of lines and journals alike; all files or none.
int take_in(const Words& words) {
  const std::string path = journal_path(words.journal);
  for (const std::string& file : words.files) {
    if (file != "-" && same_file(path, file))
      throw decode::InputError(file, {1, 1}, "this is the journal itself", "name another file; nothing was changed");
    if (file != "-") LineSource there(file);  // a wrong name must not leave an empty journal behind
  }
  const bool fresh = !exists(path);
  try {
    store::Store store(path, store::Open::add);
    store.begin();
    NotUsed not_used;
    for (const std::string& file : words.files) put_file(file, store, not_used);
    return print(added_words(store.commit()) + not_used_words(not_used));
  } catch (const decode::InputError& error) {
    if (fresh) std::remove(path.c_str());
    throw decode::InputError(error.source, error.place, error.message,
                             error.hint + (error.hint.empty() ? "" : "; ") + "nothing was added");
  }
}

// What is wrong in a file of lines, each bad line with its place; the good ones go into `into`.
std::size_t put_what_can_be_read(const std::string& path, store::Store& into, std::string& text) {
  LineSource source(path);
  std::string one;
  std::size_t bad = 0;
  while (source.next(one, journal::kMostLineBytes)) {
    if (one.find_first_not_of(" \t\r") == std::string::npos) continue;
    try {
      into.put(journal::parse_line(one, source.name(), source.number()));
    } catch (const decode::InputError& error) {
      if (++bad <= kMostBadLines) text += std::string(error.what()) + "\n";
    }
  }
  if (bad > kMostBadLines) text += fmt::format("and {} more\n", bad - kMostBadLines);
  return bad;
}

int verify(const Words& words) {
  std::string text;
  std::size_t bad = 0;
  store::Added added;
  std::unique_ptr<store::Store> store;
  const std::string file = words.files.empty() ? journal_path(words.journal) : words.files.front();
  if (words.files.empty() || is_database(file)) {
    store = std::make_unique<store::Store>(file, store::Open::read);
    if (const auto damage = store->damage()) {
      text += file + ":1:1: this journal is damaged: " + *damage + "\n";
      ++bad;
    }
  } else {
    store = std::make_unique<store::Store>("", store::Open::scratch);
    store->begin();
    bad = put_what_can_be_read(file, *store, text);
    added = store->commit();
  }
  journal::ClockCheck clocks(now_us());
  store->each_as_kept([&](const journal::Line& line) { clocks.add(line); });
  journal::Fold fold(store->survey());
  store->each([&](const journal::Line& line) { fold.add(line); });
  journal::State state = fold.take();
  using Kind = journal::Remark::Kind;
  const std::size_t not_read = state.counts[Kind::later_version] + state.counts[Kind::unknown_event];
  text = fmt::format("{}: {}, {} packs, {} taken back\n", file, lines_words(state.lines), state.packs.size(),
                     state.taken_back) +
         text;
  if (added.known > 0) text += fmt::format("{} written more than once, each counts once\n", lines_words(added.known));
  const std::pair<Kind, const char*> parts[] = {
      {Kind::same_id, "one id, different lines:"},
      {Kind::clock, "clocks:"},
      {Kind::told_twice, "told twice:"},
      {Kind::contradiction, "facts that do not go together:"},
      {Kind::taken_back_unknown, "taken back but not here:"},
      {Kind::later_version, "of a later version; kept, not understood:"},
      {Kind::unknown_event, "events unknown here; kept, not understood:"},
  };
  std::size_t wrong = bad;
  for (const auto& [kind, title] : parts) {
    std::vector<journal::Remark> own;
    for (const journal::Remark& remark : state.remarks) {
      if (remark.kind == kind) own.push_back(remark);
    }
    if (kind == Kind::clock) own.insert(own.end(), clocks.remarks().begin(), clocks.remarks().end());
    if (own.empty()) continue;
    text += std::string(title) + "\n" + app::remarks_text(own, kMostShown);
    if (kind == Kind::same_id || kind == Kind::clock || kind == Kind::contradiction || kind == Kind::told_twice)
      wrong += own.size();
  }
  if (wrong == 0) text += not_read == 0 ? "sound\n" : "sound, as far as it is understood here\n";
  if (print(text) != 0) return 2;
  return wrong == 0 ? 0 : 1;
}

std::string events_help() {
  std::string out = "Events and their keys (the first may stand without its name):\n";
  for (const journal::Form& form : journal::forms()) {
    std::string line = "  " + std::string(form.name);
    for (const journal::Key& key : form.keys) {
      if (key.name == "note") continue;
      line += key.needed ? fmt::format(" --{} ...", key.name) : fmt::format(" [--{} ...]", key.name);
    }
    out += app::wrapped(line, 80, "      ") + "\n";
  }
  return out +
         "  any: [--note ...]\n"
         "Such as:\n  tillwrap journal add charged C2 --charge \"100 %\" --at \"2026-11-25 21:30\"";
}

}  // namespace

void add_journal(CLI::App& program, Commands& commands) {
  const auto words = std::make_shared<Words>();
  CLI::App* journal =
      program.add_subcommand("journal", "the record of what happened: add, list, export, import, merge, verify");
  journal->require_subcommand(1);
  const auto command = [&](const char* name, const char* help, int (*run)(const Words&)) {
    CLI::App* made = journal->add_subcommand(name, help);
    add_journal_option(*made, words->journal);
    commands.push_back({made, [words, run] { return run(*words); }});
    return made;
  };
  CLI::App* adding = command("add", "add one event", add);
  adding->add_option("WHAT", words->said.what, "the event: charged, put_in, taken_out, rested, used, tested, ...")
      ->required();
  adding->add_option("--at", words->said.at,
                     "when it was so: \"21:30\", \"10 min ago\", \"2026-11-25 21:30\"; now if left out");
  adding->add_option("--by", words->said.by, "device of origin; else TILLWRAP_DEVICE, else this machine's name");
  adding->allow_extras();
  adding->footer(events_help());
  commands.back().run = [words, adding] {
    words->said.words = adding->remaining();
    return add(*words);
  };
  CLI::App* listing = command("list", "the lines in order", list);
  listing->add_option("--pack", words->pack, "of this pack only");
  listing->add_option("--what", words->what, "of this event only");
  listing->add_option("--last", words->last, "only so many, the latest");
  listing->add_flag("--json", words->json, "print JSON (schema/journal.schema.json)");
  CLI::App* exporting = command("export", "all lines as they were written, one a line", export_lines);
  exporting->add_option("--out", words->out, "file to write; else standard output");
  exporting->add_flag("--salvage", words->salvage, "of a damaged journal: what can still be read");
  command("import", "take in lines from a file, all or none", take_in)
      ->add_option("FILE", words->files, "lines as export writes them; - for standard input")
      ->required()
      ->expected(1);
  command("merge", "take in other journals (of a phone, another laptop): the union of all lines", take_in)
      ->add_option("FILE", words->files, "journals, or lines as export writes them")
      ->required();
  command("verify", "check a journal, or a file of lines before it is imported; changes nothing", verify)
      ->add_option("FILE", words->files, "instead of the journal")
      ->expected(1);
}

}  // namespace tillwrap::cli
