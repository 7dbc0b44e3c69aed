// Cuts the files of a log into slabs, in order.
#pragma once

#include <filesystem>
#include <memory>
#include <optional>
#include <string_view>
#include <vector>

#include "log/slab.hpp"

namespace vacuary::log {

class Splitter {
 public:
  // `layouts`: one for each file, in the same order. The first file is already open.
  Splitter(std::vector<std::filesystem::path> files, std::vector<std::shared_ptr<const Layout>> layouts,
           OpenedFile first, const plan::ChannelMap& map, const Options& options);

  // The next slab; false at the end of the last file, or after a failure.
  [[nodiscard]] bool next(Slab& slab);
  [[nodiscard]] const std::optional<Diagnostic>& failure() const { return failure_; }

 private:
  bool open_next_file();
  // Reads until the slab holds a whole record or the file ends; false when nothing is left.
  bool fill(Slab& slab);
  void append(Slab& slab);  // up to slab_bytes more
  [[nodiscard]] std::size_t before_last_stamp(const Slab& slab, std::size_t end) const;
  [[nodiscard]] std::size_t last_record_end(const Slab& slab);
  [[nodiscard]] bool quotes_in_order(std::string_view text, char delimiter);
  [[nodiscard]] std::size_t before_footer(const Slab& slab, std::size_t end) const;
  void skip_long_line(Slab& slab);

  std::vector<std::filesystem::path> files_;
  std::vector<std::shared_ptr<const Layout>> layouts_;
  const plan::ChannelMap map_;
  const Options options_;
  const Kernels* kernels_;
  std::vector<std::uint32_t> delimiters_, ends_;  // scratch of quotes_in_order
  std::size_t file_ = 0;
  std::unique_ptr<ByteStream> bytes_;
  std::string carry_;
  bool ended_ = false;             // bytes_ has no more
  bool lines_are_records_ = true;  // of the slab in hand, up to last_record_end: no quoted cell goes on
  bool first_of_file_ = true;
  std::uint64_t lines_before_ = 0, consumed_ = 0;
  std::optional<Diagnostic> failure_;
};

}  // namespace vacuary::log
