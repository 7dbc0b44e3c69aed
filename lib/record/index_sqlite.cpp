#include <fmt/format.h>
#include <sqlite3.h>

#include <cctype>

#include "record/index_backends.hpp"
#include "record/lines.hpp"

namespace vacuary::record {
namespace {

const char* const schema = R"(
create table if not exists meta(version integer not null, entries integer not null, sha256 text not null);
create table if not exists runs(
  entry integer primary key, run text, revision text, replaces text, tagmanifest text, archived text, started text,
  recipe text, recipe_revision text, chamber text, optic text, author text, verdict text, disposition text, notes text);
create index if not exists runs_by_chamber on runs(chamber, entry);
create table if not exists figures(
  name text not null, entry integer not null, value real not null, uncertainty real, unit text,
  primary key(name, entry)) without rowid;
create virtual table if not exists words using fts5(run, recipe, chamber, optic, author, notes, content='');
)";
constexpr std::int64_t schema_version = 1;

const char* const run_columns =
    "entry, run, revision, replaces, tagmanifest, archived, started, recipe, recipe_revision, chamber, "
    "optic, author, "
    "verdict, disposition, notes";

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
    for (const IndexedRun& r : runs) good = good && (r.entry <= now.value().entries || put_run(r));
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
    Statement query(db_, fmt::format("select {} from runs where {} order by entry desc limit ?9", run_columns,
                                     filter(q)));
    bind_filter(query, q);
    std::vector<IndexedRun> found;
    int step = SQLITE_ROW;
    while ((step = query.step()) == SQLITE_ROW) found.push_back(row(query));
    if (step != SQLITE_DONE) return fault();
    return found;
  }

  Result<std::vector<Point>> series(const std::string& figure, const Query& q) override {
    // The newest `limit` points, then oldest first.
    Statement query(
        db_, fmt::format(
                 "select entry, run, started, value, uncertainty, unit from runs join figures using(entry) "
                 "where name = ?10 and {} order by entry desc limit ?9",
                 filter(q)));
    bind_filter(query, q);
    query.bind(10, figure);
    std::vector<Point> found;
    int step = SQLITE_ROW;
    while ((step = query.step()) == SQLITE_ROW) {
      Point p;
      p.entry = static_cast<std::uint64_t>(query.number(0));
      p.run = query.text(1);
      p.started = query.text(2);
      p.figure = {figure, query.real(3), std::nullopt, query.text(5)};
      if (!query.is_null(4)) p.figure.expanded_uncertainty = query.real(4);
      found.push_back(std::move(p));
    }
    if (step != SQLITE_DONE) return fault();
    return std::vector<Point>(found.rbegin(), found.rend());
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
    void bind(int at, double number) { sqlite3_bind_double(statement_, at, number); }
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

  bool put_run(const IndexedRun& r) {
    const auto entry = static_cast<std::int64_t>(r.entry);
    Statement insert(
        db_, fmt::format("insert into runs({}) values(?1,?2,?3,?4,?5,?6,?7,?8,?9,?10,?11,?12,?13,?14,?15)",
                         run_columns));
    insert.bind(1, entry);
    int column = 2;
    for (const std::string* text :
         {&r.run, &r.revision, &r.replaces, &r.tagmanifest, &r.archived, &r.started, &r.recipe,
          &r.recipe_revision, &r.chamber, &r.optic, &r.author, &r.verdict, &r.disposition, &r.notes}) {
      insert.bind(column++, *text);
    }
    if (insert.step() != SQLITE_DONE) return false;
    Statement words(
        db_,
        "insert into words(rowid, run, recipe, chamber, optic, author, notes) values(?1,?2,?3,?4,?5,?6,?7)");
    words.bind(1, entry);
    column = 2;
    for (const std::string* text : {&r.run, &r.recipe, &r.chamber, &r.optic, &r.author, &r.notes})
      words.bind(column++, *text);
    if (words.step() != SQLITE_DONE) return false;
    for (const Figure& f : r.figures) {
      Statement figure(
          db_,
          "insert or replace into figures(name, entry, value, uncertainty, unit) values(?1,?2,?3,?4,?5)");
      figure.bind(1, f.name);
      figure.bind(2, entry);
      figure.bind(3, f.value);
      if (f.expanded_uncertainty) figure.bind(4, *f.expanded_uncertainty);
      figure.bind(5, f.unit);
      if (figure.step() != SQLITE_DONE) return false;
    }
    return true;
  }

  static std::string filter(const Query& q) {
    std::string where = "1";
    if (!search_words(q.words).empty())
      where += " and entry in (select rowid from words where words match ?1)";
    if (!q.chamber.empty()) where += " and chamber = ?2";
    if (!q.optic.empty()) where += " and optic = ?3";
    if (!q.recipe.empty()) where += " and recipe = ?4";
    if (!q.verdict.empty()) where += " and verdict = ?5";
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
