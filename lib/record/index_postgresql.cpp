// One index for several sites, in a PostgreSQL data base.
#include <fmt/format.h>

#include "record/index_backends.hpp"
#include "record/lines.hpp"

#if VACUARY_WITH_POSTGRESQL
#include <libpq-fe.h>

#include <charconv>
#include <cstdlib>
#endif

namespace vacuary::record {

#if !VACUARY_WITH_POSTGRESQL

Result<std::unique_ptr<Index>> open_postgresql(const std::string& url, const std::string& /*archive*/) {
  return file_fault(url, "index-fault", "this program was built without PostgreSQL",
                    "build it with libpq, or use the index in the archive");
}

#else
namespace {

// Every row belongs to an archive, named by its absolute path as the writer saw it.
const char* const schema = R"(
create table if not exists vacuary_meta(archive text primary key, version integer not null, entries bigint not null, sha256 text not null);
create table if not exists vacuary_runs(
  archive text not null, entry bigint not null, run text, revision text, replaces text, tagmanifest text, archived text,
  started text, recipe text, recipe_revision text, chamber text, optic text, author text, verdict text, disposition text,
  notes text, words tsvector, replaced_by bigint not null, primary key(archive, entry));
create index if not exists vacuary_runs_tagmanifest on vacuary_runs(archive, tagmanifest);
create index if not exists vacuary_runs_replaces on vacuary_runs(archive, replaces) where replaces <> '';
create index if not exists vacuary_runs_words on vacuary_runs using gin(words);
create table if not exists vacuary_figures(
  archive text not null, name text not null, at bigint not null, entry bigint not null,
  value double precision not null, uncertainty double precision, unit text, subject text, run text,
  primary key(archive, name, at, entry));
create index if not exists vacuary_figures_entry on vacuary_figures(archive, entry);
)";
const char* const schema_version = "2";

using Values = std::vector<std::string>;

class Answer {
 public:
  explicit Answer(PGresult* result) : result_(result) {}
  Answer(const Answer&) = delete;
  Answer& operator=(const Answer&) = delete;
  ~Answer() { PQclear(result_); }
  [[nodiscard]] bool good() const {
    const ExecStatusType status = PQresultStatus(result_);
    return status == PGRES_COMMAND_OK || status == PGRES_TUPLES_OK;
  }
  [[nodiscard]] int rows() const { return PQntuples(result_); }
  [[nodiscard]] std::string text(int row, int column) const { return PQgetvalue(result_, row, column); }
  [[nodiscard]] bool is_null(int row, int column) const { return PQgetisnull(result_, row, column) == 1; }
  [[nodiscard]] double real(int row, int column) const { return read<double>(row, column); }
  [[nodiscard]] std::uint64_t number(int row, int column) const { return read<std::uint64_t>(row, column); }
  [[nodiscard]] std::int64_t integer(int row, int column) const { return read<std::int64_t>(row, column); }

 private:
  template <class T>
  [[nodiscard]] T read(int row, int column) const {
    T value = 0;
    const std::string digits = text(row, column);
    std::from_chars(digits.data(), digits.data() + digits.size(), value);
    return value;
  }
  PGresult* result_;
};

class PostgresIndex final : public Index {
 public:
  PostgresIndex(const std::string& url, std::string archive)
      : archive_(std::move(archive)), connection_(PQconnectdb(url.c_str())) {}
  PostgresIndex(const PostgresIndex&) = delete;
  PostgresIndex& operator=(const PostgresIndex&) = delete;
  ~PostgresIndex() override { PQfinish(connection_); }

  Diagnostics open() {
    if (PQstatus(connection_) != CONNECTION_OK) return {fault()};
    // Its notices ("already exists, skipping") are of no use to anybody.
    PQsetNoticeProcessor(
        connection_, [](void*, const char*) {}, nullptr);
    // Tables of an older form lack columns that the indexes below name: look before making any.
    const Answer old(ask("select 1 from information_schema.tables where table_name = 'vacuary_meta'", {}));
    if (!old.good()) return {fault()};
    if (old.rows() > 0) {
      const Answer other(ask("select 1 from vacuary_meta where version <> $1::integer", {schema_version}));
      if (!other.good()) return {fault()};
      if (other.rows() > 0) {
        return {file_fault("postgresql", "index-fault",
                           "the index was made by another version of this program",
                           "drop the tables vacuary_meta, vacuary_runs and vacuary_figures, then run archive "
                           "reindex for each archive")};
      }
    }
    const Answer made(PQexec(connection_, schema));
    return made.good() ? Diagnostics{} : Diagnostics{fault()};
  }

  Result<Position> position() override {
    const Answer a(ask("select entries, sha256 from vacuary_meta where archive = $1", {archive_}));
    if (!a.good()) return fault();
    return a.rows() == 0 ? Position{} : Position{a.number(0, 0), a.text(0, 1)};
  }

  Diagnostics put(const std::vector<IndexedRun>& runs, const Position& position) override {
    bool good = command("begin", {});
    for (const IndexedRun& r : runs) good = good && put_run(r);
    good = good &&
           command(
               "insert into vacuary_meta values($1, $4::integer, $2, $3) on conflict(archive) do update set "
               "entries = excluded.entries, sha256 = excluded.sha256",
               {archive_, std::to_string(position.entries), position.sha256, schema_version});
    return finish(good);
  }

  Diagnostics clear() override {
    bool good = command("begin", {});
    for (const char* table : {"vacuary_meta", "vacuary_runs", "vacuary_figures"}) {
      good = good && command(fmt::format("delete from {} where archive = $1", table), {archive_});
    }
    return finish(good);
  }

  Result<std::vector<IndexedRun>> runs(const Query& q) override {
    Values values = {archive_};
    const std::string where = filter(q, values);
    const Answer a(ask(
        fmt::format("select entry, run, revision, replaces, tagmanifest, archived, started, recipe, "
                    "recipe_revision, chamber, optic, author, verdict, disposition, notes, replaced_by from "
                    "vacuary_runs r "
                    "where {} order by entry desc {}",
                    where, limit(q)),
        values));
    if (!a.good()) return fault();
    std::vector<IndexedRun> found;
    for (int i = 0; i < a.rows(); ++i) {
      IndexedRun r;
      r.entry = a.number(i, 0);
      int column = 1;
      for (std::string* text :
           {&r.run, &r.revision, &r.replaces, &r.tagmanifest, &r.archived, &r.started, &r.recipe,
            &r.recipe_revision, &r.chamber, &r.optic, &r.author, &r.verdict, &r.disposition, &r.notes}) {
        *text = a.text(i, column++);
      }
      r.replaced_by = a.number(i, column);
      found.push_back(std::move(r));
    }
    return found;
  }

  Result<std::uint64_t> count(const Query& q) override {
    Values values = {archive_};
    const std::string where = filter(q, values);
    const Answer a(ask(fmt::format("select count(*) from vacuary_runs r where {}", where), values));
    if (!a.good()) return fault();
    return a.number(0, 0);
  }

  Result<std::vector<Point>> series(const std::string& figure, const Query& q) override {
    Values values = {archive_};
    const std::string where = filter(q, values);
    const std::string some =
        values.size() == 1 ? std::string{}
                           : fmt::format("and f.entry in (select entry from vacuary_runs r where {})", where);
    values.push_back(figure);
    const Answer a(ask(
        fmt::format("select at, entry, value, uncertainty, unit, subject, run from vacuary_figures f where "
                    "f.archive = $1 and f.name = ${} {} order by at desc, entry desc {}",
                    values.size(), some, limit(q)),
        values));
    if (!a.good()) return fault();
    std::vector<Point> found;
    for (int i = a.rows(); i-- > 0;) {
      Point p;
      const std::int64_t at = a.integer(i, 0);
      if (at != undated) p.at = Instant{at};
      p.entry = a.number(i, 1);
      p.figure = {a.real(i, 2), std::nullopt, a.text(i, 4), a.text(i, 5)};
      if (!a.is_null(i, 3)) p.figure.expanded_uncertainty = a.real(i, 3);
      p.run = a.text(i, 6);
      found.push_back(std::move(p));
    }
    return found;
  }

  Result<std::vector<std::string>> figure_names() override {
    const Answer a(
        ask("select distinct name from vacuary_figures where archive = $1 order by name", {archive_}));
    if (!a.good()) return fault();
    std::vector<std::string> names;
    for (int i = 0; i < a.rows(); ++i) names.push_back(a.text(i, 0));
    return names;
  }

 private:
  [[nodiscard]] Diagnostic fault() const {
    std::string text = PQerrorMessage(connection_);
    while (!text.empty() && text.back() == '\n') text.pop_back();
    for (char& ch : text) ch = ch == '\n' ? ' ' : ch;
    return file_fault("postgresql", "index-fault", fmt::format("the index cannot be used: {}", text),
                      "check the address and the server; the runs themselves are not affected");
  }

  PGresult* ask(const std::string& sql, const Values& values) {
    std::vector<const char*> pointers;
    for (const std::string& value : values) pointers.push_back(value.c_str());
    return PQexecParams(connection_, sql.c_str(), static_cast<int>(values.size()), nullptr, pointers.data(),
                        nullptr, nullptr, 0);
  }
  bool command(const std::string& sql, const Values& values) { return Answer(ask(sql, values)).good(); }

  Diagnostics finish(bool good) {
    if (good && command("commit", {})) return {};
    Diagnostic d = fault();
    command("rollback", {});
    return {d};
  }

  bool put_run(const IndexedRun& r) {
    const std::string entry = std::to_string(r.entry);
    bool there = false;
    std::string replaced_by;
    bool good =
        command("delete from vacuary_figures where archive = $1 and entry = $2", {archive_, entry}) &&
        command("delete from vacuary_runs where archive = $1 and entry = $2", {archive_, entry}) &&
        look_around(r, there, replaced_by) &&
        command(
            "insert into vacuary_runs values($1,$2,$3,$4,$5,$6,$7,$8,$9,$10,$11,$12,$13,$14,$15,$16,"
            "to_tsvector('simple', concat_ws(' ', $3::text, $9::text, $11::text, $12::text, $13::text, "
            "$16::text)), $17)",
            {archive_, entry, r.run, r.revision, r.replaces, r.tagmanifest, r.archived, r.started, r.recipe,
             r.recipe_revision, r.chamber, r.optic, r.author, r.verdict, r.disposition, r.notes,
             replaced_by});
    if (!good) return false;
    if (!r.replaces.empty()) {
      good = command("update vacuary_runs set replaced_by = $3 where archive = $1 and tagmanifest = $2",
                     {archive_, r.replaces, entry}) &&
             command(
                 "delete from vacuary_figures where archive = $1 and entry in (select entry from "
                 "vacuary_runs where archive = $1 and tagmanifest = $2)",
                 {archive_, r.replaces});
    }
    return good && (there || replaced_by != "0" || put_figures(r, entry));
  }

  // The same run in another entry, and the revision that replaces this one.
  bool look_around(const IndexedRun& r, bool& there, std::string& replaced_by) {
    replaced_by = "0";
    if (r.tagmanifest.empty()) return true;
    const Answer a(
        ask("select (select max(entry) from vacuary_runs where archive = $1 and tagmanifest = $2), "
            "(select max(entry) from vacuary_runs where archive = $1 and replaces = $2 and replaces <> '')",
            {archive_, r.tagmanifest}));
    if (!a.good()) return false;
    there = !a.is_null(0, 0);
    if (!a.is_null(0, 1)) replaced_by = a.text(0, 1);
    return true;
  }

  bool put_figures(const IndexedRun& r, const std::string& entry) {
    for (const Figure& f : r.figures) {
      const std::optional<Instant> at = figure_time(f, r);
      const std::string uncertainty =
          f.expanded_uncertainty ? fmt::format("{}", *f.expanded_uncertainty) : "";
      if (!command("insert into vacuary_figures values($1,$2,$3,$4,$5,nullif($6::text, '')::double "
                   "precision,$7,$8,$9) on conflict(archive, name, at, entry) do update set value = "
                   "excluded.value, uncertainty = excluded.uncertainty, unit = excluded.unit, subject = "
                   "excluded.subject",
                   {archive_, f.name, std::to_string(at ? at->ns : undated), entry,
                    fmt::format("{}", f.value), uncertainty, f.unit, f.subject, r.run})) {
        return false;
      }
    }
    return true;
  }

  // Adds what it compares with to `values`.
  static std::string filter(const Query& q, Values& values) {
    std::string where = "r.archive = $1";
    const auto add = [&](const std::string& condition, const std::string& value) {
      if (value.empty()) return;
      values.push_back(value);
      where += fmt::format(" and {} ${}", condition, values.size());
    };
    std::string words;
    for (const std::string& word : search_words(q.words))
      words += fmt::format("{}'{}':*", words.empty() ? "" : " & ", word);
    if (!words.empty()) {
      values.push_back(words);
      where += fmt::format(" and words @@ to_tsquery('simple', ${})", values.size());
    }
    if (q.before != 0) add("entry <", std::to_string(q.before));
    add("chamber =", q.chamber);
    add("optic =", q.optic);
    add("recipe =", q.recipe);
    add("verdict =", q.verdict);
    add("started >=", q.from);
    add("started <", q.to);
    return where;
  }
  static std::string limit(const Query& q) {
    return q.limit == 0 ? std::string{} : fmt::format("limit {}", q.limit);
  }

  std::string archive_;
  PGconn* connection_;
};

}  // namespace

Result<std::unique_ptr<Index>> open_postgresql(const std::string& url, const std::string& archive) {
  const std::unique_ptr<char, decltype(&::free)> real(::realpath(archive.c_str(), nullptr), &::free);
  auto index = std::make_unique<PostgresIndex>(url, real ? real.get() : archive);
  if (Diagnostics said = index->open(); !said.empty()) return said;
  return Result<std::unique_ptr<Index>>(std::move(index));
}
#endif

}  // namespace vacuary::record
