// The texts of an archive: ledger entries and the head. Formats in schemas/record.md, "Archive".
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "base/time.hpp"
#include "record/statement.hpp"

namespace vacuary::record {

struct Entry {
  std::uint64_t number = 0;  // from 1
  Instant time;              // of archiving, by this computer's clock
  std::string run;           // External-Identifier of the bag
  std::string revision;
  std::string before;           // SHA-256 of the entry before; empty for the first
  std::vector<Checksum> files;  // tag manifest, everything in signatures/, the allowed signers
  std::string sha256;           // of this entry's own text; filled by parse_entry
  [[nodiscard]] std::string sum_of(const std::string& path) const;  // empty when not listed
};
[[nodiscard]] std::string to_text(const Entry& entry);
[[nodiscard]] Result<Entry> parse_entry(const std::string& file, std::string_view bytes);

struct Head {
  std::uint64_t entries = 0;
  std::string sha256;  // of the last entry's text; empty for an empty archive
};
[[nodiscard]] std::string to_text(const Head& head);
[[nodiscard]] Result<Head> parse_head(const std::string& file, std::string_view bytes);

// Paths from the archive's folder.
[[nodiscard]] std::string entry_path(std::uint64_t number);  // ledger/00000/00000001.txt
[[nodiscard]] std::string bag_path(std::uint64_t number);    // bags/00000/00000001
[[nodiscard]] std::string stamp_path(std::uint64_t number);  // stamps/00000001.tsr
[[nodiscard]] std::string signers_path(const std::string& sha256);

}  // namespace vacuary::record
