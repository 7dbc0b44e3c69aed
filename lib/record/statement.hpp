// Statements: what a person signs. Format in schemas/record.md, "Statement".
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "base/time.hpp"

namespace vacuary::record {

enum class Disposition { accept, rework, reject };
[[nodiscard]] const char* name(Disposition disposition);
[[nodiscard]] bool disposition_of(std::string_view name, Disposition& disposition);

struct Checksum {
  std::string sha256;  // 64 lower-case hex digits
  std::string path;
};

struct Statement {
  std::string role;  // lower-case words: "process engineer"
  Disposition disposition = Disposition::reject;
  std::string reason;
  std::string signer;           // as claimed
  Instant time;                 // as claimed, whole seconds
  std::string tagmanifest;      // SHA-256 of tagmanifest-sha256.txt
  std::vector<Checksum> after;  // the statement before this one, if any
};

// Exactly one text stands for one statement: parse_statement(to_text(s)) gives s, and
// to_text(parse_statement(t)) gives t. Precondition of to_text: check_statement has no complaint.
[[nodiscard]] std::string to_text(const Statement& statement);
[[nodiscard]] Result<Statement> parse_statement(const std::string& file, std::string_view bytes);

// What keeps the statement from being written: a role that is no role, a missing reason, a text of more
// than one line.
[[nodiscard]] Diagnostics check_statement(const Statement& statement);

// "process engineer" -> "process-engineer": file name and principal. Empty when it is no role name
// (lower-case ASCII letters and digits, single blanks or '-' between words, at most 60).
[[nodiscard]] std::string role_id(std::string_view role);

// "2-operator.txt" -> 2 and "operator"; false for any other name.
[[nodiscard]] bool statement_name(std::string_view file_name, unsigned& number, std::string& role);
[[nodiscard]] std::string statement_path(unsigned number, const std::string& role);  // from the run folder

}  // namespace vacuary::record
