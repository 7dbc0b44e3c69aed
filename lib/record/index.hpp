// The index of an archive: what can be asked quickly. It proves nothing and can always be made again
// from the bags; SQLite beside the archive, or one PostgreSQL data base for several sites.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "base/time.hpp"
#include "record/disk.hpp"

namespace vacuary::record {

// A figure of a run, in the unit its report states.
struct Figure {
  std::string name;  // "base_pressure"; see schemas/record.md, "Figures"
  double value = 0;
  std::optional<double> expanded_uncertainty;  // k = 2
  std::string unit;
  std::string at = {};       // RFC 3339, when it was so; empty: when the run started
  std::string subject = {};  // what it is about besides the run: a target's serial, a film; may be empty
};
// The value of a bag-info element `Figure`, and back. False for what is not of that form: it names no
// figure, or a value is no finite number.
[[nodiscard]] std::string figure_text(const Figure& figure);
[[nodiscard]] bool read_figure(std::string_view text, Figure& figure);

struct IndexedRun {
  std::uint64_t entry = 0;
  std::string run, revision, replaces, tagmanifest;
  std::string archived, started;  // RFC 3339; started is the log's first row, may be empty
  std::string recipe, recipe_revision, chamber, optic, author;
  std::string verdict, disposition;  // disposition: of the last statement
  std::string notes;                 // reasons of the report and of the statements
  std::vector<Figure> figures;       // not filled by Index::runs
  std::uint64_t replaced_by = 0;     // entry of the revision after it, when that is archived; else 0
};

struct Query {
  std::string words;  // all must be found in run, recipe, chamber, optic, author or notes
  std::string chamber, optic, recipe, verdict;  // exact; empty: any
  std::string from, to;                         // of `started`, RFC 3339 or a prefix of it; empty: open
  std::uint64_t limit = 100;                    // 0: all
  std::uint64_t before = 0;                     // only entries below this one; 0: all. For pages
};

struct Point {
  std::uint64_t entry = 0;
  std::string run;
  std::optional<Instant> at;  // Figure::at, else the run's start; none when neither is known
  struct Value {              // of the figure asked for; small, since there may be very many
    double value = 0;
    std::optional<double> expanded_uncertainty;
    std::string unit, subject;
  } figure;
};

// How far the index has come.
struct Position {
  std::uint64_t entries = 0;
  std::string sha256;  // of that ledger entry
};

class Index {
 public:
  virtual ~Index() = default;
  [[nodiscard]] virtual Result<Position> position() = 0;
  // All of it or nothing. Runs that are there already stay as they are.
  [[nodiscard]] virtual Diagnostics put(const std::vector<IndexedRun>& runs, const Position& position) = 0;
  [[nodiscard]] virtual Diagnostics clear() = 0;
  [[nodiscard]] virtual Result<std::vector<IndexedRun>> runs(const Query& query) = 0;  // newest first
  // How many runs() would give without a limit.
  [[nodiscard]] virtual Result<std::uint64_t> count(const Query& query) = 0;
  // By time, oldest first; undated points before all. Of a run with several revisions only the newest
  // that is archived speaks.
  [[nodiscard]] virtual Result<std::vector<Point>> series(const std::string& figure, const Query& query) = 0;
  [[nodiscard]] virtual Result<std::vector<std::string>> figure_names() = 0;
};

// location: empty for index.sqlite in the archive's folder, or "postgresql://...", in which every archive
// is kept apart by `archive`'s absolute path.
[[nodiscard]] Result<std::unique_ptr<Index>> open_index(const std::string& archive,
                                                        const std::string& location = "");

// Brings the index up to the ledger's head: adds what is missing, or starts anew when it belongs to
// another ledger. Returns how many runs were read.
[[nodiscard]] Result<std::uint64_t> update_index(const std::string& archive, Index& index,
                                                 Disk& disk = real_disk());
// Makes it again from nothing, also when the file is damaged.
[[nodiscard]] Result<std::uint64_t> reindex(const std::string& archive, const std::string& location = "",
                                            Disk& disk = real_disk());

// What the index holds of one archived run, read from its bag.
[[nodiscard]] Result<IndexedRun> describe_run(const std::string& archive, std::uint64_t number,
                                              Disk& disk = real_disk());

}  // namespace vacuary::record
