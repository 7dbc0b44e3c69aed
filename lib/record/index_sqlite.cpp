#include <fmt/format.h>
#include <sqlite3.h>

#include <algorithm>
#include <cctype>

#include "record/index_backends.hpp"
#include "record/lines.hpp"

namespace vacuary::record {
namespace {

// A figure's rows of one name lie together in the order of time with all that a trend asks for, so that it
// is read from one stretch of the file.
const char* const schema = R"(
create table if not exists meta(version integer not null, entries integer not null, sha256 text not null);
create table if not exists runs(
  entry integer primary key, run text, revision text, replaces text, tagmanifest text, archived text, started text,
  recipe text, recipe_revision text, chamber text, optic text, author text, verdict text, disposition text, notes text,
  replaced_by integer not null);
create index if not exists runs_by_chamber on runs(chamber, entry);
create index if not exists runs_by_tagmanifest on runs(tagmanifest);
create index if not exists runs_by_replaces on runs(replaces) where replaces <> '';
create table if not exists figures(
  name text not null, at integer not null, entry integer not null, value real not null, uncertainty real, unit text,
  subject text, run text, primary key(name, at, entry)) without rowid;
create index if not exists figures_by_entry on figures(entry);
create virtual table if not exists words using fts5(run, recipe, chamber, optic, author, notes, content='');
)";
constexpr std::int64_t schema_version = 2;

const char* const run_columns =
    "entry, runs.run, revision, replaces, tagmanifest, archived, started, runs.recipe, recipe_revision, "
    "runs.chamber, runs.optic, runs.author, verdict, disposition, runs.notes, replaced_by";

class SqliteIndex final : public Index {
 public:
  explicit SqliteIndex(std::string file) : file_(std::move(file)) {}
  SqliteIndex(const SqliteIndex&) = delete;
  SqliteIndex& operator=(const SqliteIndex&) = delete;
  ~SqliteIndex() override { sqlite3_close_v2(db_); }

  Diagnostics open() {
    constexpr int wait_ms = 10'000;
    if (sqlite3_open_v2(file_.c_str(), &db_,
                        SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_NOFOLLOW,
                        nullptr) != SQLITE_OK) {
      return {fault()};
    }
    sqlite3_busy_timeout(db_, wait_ms);
    // NORMAL: a power cut may lose the newest rows, which update_index adds again, and never more.
    if (!run("pragma journal_mode=wal; pragma synchronous=normal;") || !run(schema)) return {fault()};
    const Result<Position> known = position();
    if (!known.has_value()) return known.diagnostics();
    return {};
  }

  Result<Position> position() override {
    Statement query(db_, "select version, entries, sha256 from meta");
    const int step = query.step();
    if (step == SQLITE_DONE) return Position{};
    if (step != SQLITE_ROW) return fault();
    if (query.number(0) != schema_version) {
      return file_fault(file_, "index-fault", "the index was made by another version of this program",
                        "run archive reindex");
    }
    return Position{static_cast<std::uint64_t>(query.number(1)), query.text(2)};
  }

  Diagnostics put(const std::vector<IndexedRun>& runs, const Position& position) override {
    if (!run("begin immediate")) return {fault()};
    // Another process may have brought the index up to date since this one looked.
    const Result<Position> now = this->position();
    bool good = now.has_value();
    Puts puts(db_);
    for (const IndexedRun& r : runs) good = good && (r.entry <= now.value().entries || put_run(r, puts));
    Statement meta(db_, "insert into meta(version, entries, sha256) values(?1, ?2, ?3)");
    good = good && run("delete from meta");
    meta.bind(1, schema_version);
    meta.bind(2, static_cast<std::int64_t>(position.entries));
    meta.bind(3, position.sha256);
    good = good && meta.step() == SQLITE_DONE && run("commit");
    if (good) return {};
    Diagnostic d = fault();
    run("rollback");
    return {d};
  }

  Diagnostics clear() override {
    if (run("begin immediate; delete from meta; delete from runs; delete from figures; "
            "insert into words(words) values('delete-all'); commit")) {
      return {};
    }
    Diagnostic d = fault();
    run("rollback");
    return {d};
  }

  Result<std::vector<IndexedRun>> runs(const Query& q) override {
    Statement query(db_, fmt::format("select {} from {} order by {} desc limit ?9", run_columns, from(q),
                                     has_words(q) ? "words.rowid" : "entry"));
    bind_filter(query, q);
    std::vector<IndexedRun> found;
    int step = SQLITE_ROW;
    while ((step = query.step()) == SQLITE_ROW) found.push_back(row(query));
    if (step != SQLITE_DONE) return fault();
    return found;
  }

  Result<std::uint64_t> count(const Query& q) override {
    Query only_words;
    only_words.words = q.words;
    const bool words_alone = has_words(q) && filter(q) == filter(only_words);
    Statement query(
        db_, "select count(*) from " + (words_alone ? std::string("words where words match ?1") : from(q)));
    bind_filter(query, q);
    if (query.step() != SQLITE_ROW) return fault();
    return static_cast<std::uint64_t>(query.number(0));
  }

  Result<std::vector<Point>> series(const std::string& figure, const Query& q) override {
    // Oldest first; with a limit the newest are found first.
    const bool backwards = q.limit != 0;
    const bool all = !has_words(q) && filter(q) == filter(Query{});
    Statement query(
        db_, fmt::format("select at, entry, value, uncertainty, unit, subject, run from figures where name = "
                         "?10 {} {} limit ?9",
                         all ? "" : fmt::format("and entry in (select entry from {})", from(q)),
                         backwards ? "order by at desc, entry desc" : "order by at, entry"));
    bind_filter(query, q);
    query.bind(10, figure);
    // Room for all of them at once: growing would move a hundred thousand points again and again.
    Statement number(db_, "select count(*) from figures where name = ?10");
    number.bind(10, figure);
    if (number.step() != SQLITE_ROW) return fault();
    std::vector<Point> found;
    const auto most = static_cast<std::uint64_t>(number.number(0));
    found.reserve(q.limit == 0 ? most : std::min(most, q.limit));
    int step = SQLITE_ROW;
    while ((step = query.step()) == SQLITE_ROW) {
      Point p;
      if (query.number(0) != undated) p.at = Instant{query.number(0)};
      p.entry = static_cast<std::uint64_t>(query.number(1));
      p.figure = {query.real(2), std::nullopt, query.text(4), query.text(5)};
      if (!query.is_null(3)) p.figure.expanded_uncertainty = query.real(3);
      p.run = query.text(6);
      found.push_back(std::move(p));
    }
    if (step != SQLITE_DONE) return fault();
    if (backwards) std::reverse(found.begin(), found.end());
    return found;
  }

  Result<std::vector<std::string>> figure_names() override {
    // One look-up per name instead of a walk over all figures.
    Statement query(
        db_,
        "with recursive n(name) as (select min(name) from figures union all "
        "select (select min(name) from figures where name > n.name) from n where n.name is not null) "
        "select name from n where name is not null");
    std::vector<std::string> names;
    int step = SQLITE_ROW;
    while ((step = query.step()) == SQLITE_ROW) names.push_back(query.text(0));
    if (step != SQLITE_DONE) return fault();
    return names;
  }

 private:
  class Statement {
   public:
    Statement(sqlite3* db, const std::string& sql) {
      sqlite3_prepare_v2(db, sql.c_str(), -1, &statement_, nullptr);
    }
    Statement(const Statement&) = delete;
    Statement& operator=(const Statement&) = delete;
    ~Statement() { sqlite3_finalize(statement_); }
    void bind(int at, const std::string& text) {
      sqlite3_bind_text(statement_, at, text.data(), static_cast<int>(text.size()), SQLITE_TRANSIENT);
    }
    void bind(int at, std::int64_t number) { sqlite3_bind_int64(statement_, at, number); }
    void bind_null(int at) { sqlite3_bind_null(statement_, at); }
    void bind(int at, double number) { sqlite3_bind_double(statement_, at, number); }
    void again() { sqlite3_reset(statement_); }
    int step() { return statement_ == nullptr ? SQLITE_ERROR : sqlite3_step(statement_); }
    [[nodiscard]] std::int64_t number(int column) const { return sqlite3_column_int64(statement_, column); }
    [[nodiscard]] double real(int column) const { return sqlite3_column_double(statement_, column); }
    [[nodiscard]] bool is_null(int column) const {
      return sqlite3_column_type(statement_, column) == SQLITE_NULL;
    }
    [[nodiscard]] std::string text(int column) const {
      const auto* bytes = sqlite3_column_text(statement_, column);
      const int size = sqlite3_column_bytes(statement_, column);
      return bytes == nullptr
                 ? std::string{}
                 : std::string(reinterpret_cast<const char*>(bytes), static_cast<std::size_t>(size));
    }

   private:
    sqlite3_stmt* statement_ = nullptr;
  };

  [[nodiscard]] Diagnostic fault() const {
    return file_fault(file_, "index-fault", fmt::format("the index cannot be used: {}", sqlite3_errmsg(db_)),
                      "run archive reindex; the runs themselves are not affected");
  }

  bool run(const char* sql) { return sqlite3_exec(db_, sql, nullptr, nullptr, nullptr) == SQLITE_OK; }

  // Statements that are prepared once for many runs.
  struct Puts {
    explicit Puts(sqlite3* db)
        : run(db, "insert into runs values(?1,?2,?3,?4,?5,?6,?7,?8,?9,?10,?11,?12,?13,?14,?15,?16)"),
          words(db,
                "insert into words(rowid, run, recipe, chamber, optic, author, notes) "
                "values(?1,?2,?3,?4,?5,?6,?7)"),
          figure(db, "insert or replace into figures values(?1,?2,?3,?4,?5,?6,?7,?8)"),
          known(db,
                "select max(entry) from runs where tagmanifest = ?1 union all "
                "select max(entry) from runs where replaces = ?1 and replaces <> ''"),
          replace(db, "update runs set replaced_by = ?1 where tagmanifest = ?2"),
          forget(db, "delete from figures where entry in (select entry from runs where tagmanifest = ?1)") {}
    Statement run, words, figure, known, replace, forget;
  };

  static bool done(Statement& statement) {
    const bool good = statement.step() == SQLITE_DONE;
    statement.again();
    return good;
  }

  // The same run in an earlier entry, and the revision that replaces this one.
  static bool look_around(const IndexedRun& r, Puts& puts, bool& there, std::int64_t& replaced_by) {
    puts.known.bind(1, r.tagmanifest);
    bool good = puts.known.step() == SQLITE_ROW;
    there = good && !r.tagmanifest.empty() && !puts.known.is_null(0);
    good = good && puts.known.step() == SQLITE_ROW;
    replaced_by = good && !r.tagmanifest.empty() ? puts.known.number(0) : 0;
    puts.known.again();
    return good;
  }

  static bool put_run(const IndexedRun& r, Puts& puts) {
    const auto entry = static_cast<std::int64_t>(r.entry);
    bool there = false;
    std::int64_t replaced_by = 0;
    if (!look_around(r, puts, there, replaced_by)) return false;
    puts.run.bind(1, entry);
    int column = 2;
    for (const std::string* text :
         {&r.run, &r.revision, &r.replaces, &r.tagmanifest, &r.archived, &r.started, &r.recipe,
          &r.recipe_revision, &r.chamber, &r.optic, &r.author, &r.verdict, &r.disposition, &r.notes}) {
      puts.run.bind(column++, *text);
    }
    puts.run.bind(column, replaced_by);
    puts.words.bind(1, entry);
    column = 2;
    for (const std::string* text : {&r.run, &r.recipe, &r.chamber, &r.optic, &r.author, &r.notes})
      puts.words.bind(column++, *text);
    if (!done(puts.run) || !done(puts.words)) return false;
    if (!r.replaces.empty()) {
      puts.replace.bind(1, entry);
      puts.replace.bind(2, r.replaces);
      puts.forget.bind(1, r.replaces);
      if (!done(puts.replace) || !done(puts.forget)) return false;
    }
    return there || replaced_by != 0 || put_figures(r, puts.figure);
  }

  static bool put_figures(const IndexedRun& r, Statement& insert) {
    for (const Figure& f : r.figures) {
      const std::optional<Instant> at = figure_time(f, r);
      insert.bind(1, f.name);
      insert.bind(2, at ? at->ns : undated);
      insert.bind(3, static_cast<std::int64_t>(r.entry));
      insert.bind(4, f.value);
      insert.bind_null(5);
      if (f.expanded_uncertainty) insert.bind(5, *f.expanded_uncertainty);
      insert.bind(6, f.unit);
      insert.bind(7, f.subject);
      insert.bind(8, r.run);
      if (!done(insert)) return false;
    }
    return true;
  }

  static bool has_words(const Query& q) { return !search_words(q.words).empty(); }

  // Tables and conditions. With words the full-text table leads: it gives its rows in order by itself.
  static std::string from(const Query& q) {
    return has_words(q) ? "words join runs on runs.entry = words.rowid where " + filter(q)
                        : "runs where " + filter(q);
  }
  static std::string filter(const Query& q) {
    std::string where = has_words(q) ? "words match ?1" : "1";
    if (q.before != 0) where += has_words(q) ? " and words.rowid < ?8" : " and entry < ?8";
    if (!q.chamber.empty()) where += " and runs.chamber = ?2";
    if (!q.optic.empty()) where += " and runs.optic = ?3";
    if (!q.recipe.empty()) where += " and runs.recipe = ?4";
    if (!q.verdict.empty()) where += " and runs.verdict = ?5";
    if (!q.from.empty()) where += " and started >= ?6";
    if (!q.to.empty()) where += " and started < ?7";
    return where;
  }

  static void bind_filter(Statement& query, const Query& q) {
    std::string match;
    for (const std::string& word : search_words(q.words)) match += fmt::format("\"{}\"* ", word);
    query.bind(1, match);
    query.bind(2, q.chamber);
    query.bind(3, q.optic);
    query.bind(4, q.recipe);
    query.bind(5, q.verdict);
    query.bind(6, q.from);
    query.bind(7, q.to);
    query.bind(8, static_cast<std::int64_t>(q.before));
    query.bind(9, q.limit == 0 ? std::int64_t{-1} : static_cast<std::int64_t>(q.limit));
  }

  static IndexedRun row(const Statement& query) {
    IndexedRun r;
    r.entry = static_cast<std::uint64_t>(query.number(0));
    int column = 1;
    for (std::string* text :
         {&r.run, &r.revision, &r.replaces, &r.tagmanifest, &r.archived, &r.started, &r.recipe,
          &r.recipe_revision, &r.chamber, &r.optic, &r.author, &r.verdict, &r.disposition, &r.notes}) {
      *text = query.text(column++);
    }
    r.replaced_by = static_cast<std::uint64_t>(query.number(column));
    return r;
  }

  std::string file_;
  sqlite3* db_ = nullptr;
};

}  // namespace

Result<std::unique_ptr<Index>> open_sqlite(const std::string& file) {
  auto index = std::make_unique<SqliteIndex>(file);
  if (Diagnostics said = index->open(); !said.empty()) return said;
  return Result<std::unique_ptr<Index>>(std::move(index));
}

std::vector<std::string> search_words(const std::string& text) {
  std::vector<std::string> words(1);
  for (const char ch : text) {
    const auto byte = static_cast<unsigned char>(ch);
    if (std::isalnum(byte) != 0 || byte >= 0x80) {
      words.back() += ch;
    } else if (!words.back().empty()) {
      words.emplace_back();
    }
  }
  if (words.back().empty()) words.pop_back();
  return words;
}

}  // namespace vacuary::record
