// Reading on after a syntax error. The parser gives up at the first one; a person wants all the
// complaints there are. The idea: plan files are written one statement a line, so the statement with
// the error can be found, overwritten by blanks (which keeps every place where it was) and the rest
// parsed again.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <utility>

#include "plan/node.hpp"

namespace vacuary::plan {
namespace {

constexpr std::size_t longest_to_mend = 200'000;  // bytes; each mending parses all of it again
constexpr int most_errors = 20;

struct Statement {
  std::size_t start = 0, end = 0;  // bytes; end: where the next one starts
  bool header = false;
  std::string key;  // or the header with its brackets
};

bool is_key_char(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' || c == '-';
}

// The statement a line starts, by its look: a header in the first column, or `key =`.
std::optional<Statement> statement_of(const std::string& text, std::size_t start, std::size_t end) {
  std::size_t i = start;
  if (i + 1 < end && text[i] == '[' && (is_key_char(text[i + 1]) || text[i + 1] == '[')) {
    const std::size_t close = std::min(text.find_last_of(']', end), end);
    return Statement{start, end, true, close > start ? text.substr(start, close - start + 1) : ""};
  }
  while (i < end && (text[i] == ' ' || text[i] == '\t')) ++i;
  const std::size_t key = i;
  while (i < end && (is_key_char(text[i]) || text[i] == '.' || text[i] == '"')) ++i;
  const std::size_t key_end = i;
  while (i < end && (text[i] == ' ' || text[i] == '\t')) ++i;
  if (key_end == key || i >= end || text[i] != '=') return std::nullopt;
  return Statement{start, end, false, text.substr(key, key_end - key)};
}

std::vector<Statement> statements_of(const std::string& text) {
  std::vector<Statement> all{Statement{}};  // what stands before the first one
  for (std::size_t start = 0; start < text.size();) {
    const std::size_t end = std::min(text.find('\n', start), text.size());
    if (auto statement = statement_of(text, start, end)) {
      all.back().end = start;
      all.push_back(*statement);
    }
    start = end + 1;
  }
  all.back().end = text.size();
  return all;
}

// Statements first to last - 1, for an error at this byte.
struct LeftOut {
  std::size_t first = 0, last = 0, error = 0;
};

class Mender {
 public:
  explicit Mender(const std::shared_ptr<const Source>& source)
      : source_(source), text_(source->bytes()), statements_(statements_of(text_)) {}

  [[nodiscard]] Document run() {
    for (int n = 0; n < most_errors; ++n) {
      auto parsed = parse_toml(text_, source_);
      if (auto* root = std::get_if<Node>(&parsed)) {
        document_.root = std::move(*root);
        note_left_out();
        return std::move(document_);
      }
      document_.broken = true;
      if (!leave_out(std::get<SyntaxError>(parsed))) break;
    }
    give_up();
    return std::move(document_);
  }

 private:
  [[nodiscard]] bool parses_before(std::size_t statement) const {
    return std::holds_alternative<Node>(parse_toml(text_.substr(0, statements_[statement].start), source_));
  }

  // The statement with the error. Where a list or text is not closed, the parser stumbles only over a
  // later statement: the guilty one is the last before which everything parses.
  [[nodiscard]] std::size_t guilty(std::size_t offset) const {
    std::size_t at = 0;
    while (at + 1 < statements_.size() && statements_[at + 1].start <= offset) ++at;
    if (at == 0 || parses_before(at)) return at;
    std::size_t low = 0;
    while (at - low > 1) {
      const std::size_t middle = (low + at) / 2;
      (parses_before(middle) ? low : at) = middle;
    }
    return low;
  }

  [[nodiscard]] std::size_t block_of(std::size_t statement) const {
    while (statement > 0 && !statements_[statement].header) --statement;
    return statement;
  }
  [[nodiscard]] std::size_t block_end(std::size_t block) const {
    std::size_t end = block + 1;
    while (end < statements_.size() && !statements_[end].header) ++end;
    return end;
  }

  void blank(std::size_t first, std::size_t last, std::size_t error) {
    if (first >= last) return;
    for (std::size_t i = statements_[first].start; i < statements_[last - 1].end; ++i) {
      if (text_[i] != '\n' && text_[i] != '\r') text_[i] = ' ';
    }
    left_out_.push_back({first, last, error});
  }

  // Reports the error, unless it may be the echo of one in the same table, and blanks what it is in.
  bool leave_out(const SyntaxError& error) {
    if (source_->bytes().size() > longest_to_mend) {
      report(error, 0);
      return false;
    }
    const std::size_t statement = guilty(error.offset);
    const std::size_t block = block_of(statement);
    const int seen = seen_[block]++;
    if (seen == 0) report(error, statement);
    if (statements_[statement].header || seen > 1) {
      blank(block, block_end(block), error.offset);
    } else if (seen == 1) {
      blank(block + 1, block_end(block), error.offset);
    } else {
      blank(statement, statement + 1, error.offset);
    }
    return seen <= 2;
  }

  void report(const SyntaxError& error, std::size_t statement) {
    Diagnostic d;
    d.rule = "syntax";
    d.message = error.message;
    d.where = source_->place(error.offset);
    d.remedy = "correct this line; texts and quantities stand in double quotes";
    const Statement& in = statements_[statement];
    if (error.message.find("cannot redefine") != std::string::npos) {
      report_duplicate(d, error, statement);
    } else if (statement > 0 && error.offset >= in.end && in.end > 0) {
      d.message = fmt::format("what starts at '{}' is not closed before the next statement", in.key);
      d.where = source_->place(in.start, std::max<std::size_t>(in.key.size(), 1));
      d.second = SecondPlace{source_->place(error.offset), "reading came to a halt here"};
      d.remedy = "close its bracket, brace or quotes";
    }
    document_.diagnostics.push_back(std::move(d));
  }

  void report_duplicate(Diagnostic& d, const SyntaxError& error, std::size_t statement) const {
    const Statement& in = statements_[statement];
    const std::size_t open = error.message.find('\'');
    const std::size_t close = error.message.find('\'', open + 1);
    if (open == std::string::npos || close == std::string::npos) return;
    std::string key = error.message.substr(open + 1, close - open - 1);
    d.rule = "syntax";
    d.message = fmt::format("'{}' is set twice", key);
    d.remedy = "keep one of the two";
    key = key.substr(key.rfind('.') + 1);
    const std::string& text = source_->bytes();
    const std::size_t mine = text.rfind(key, error.offset);
    if (mine != std::string::npos && mine >= in.start) d.where = source_->place(mine, key.size());
    if (const auto first = earlier(key, statement, mine)) {
      d.second = SecondPlace{source_->place(*first, key.size()), "first set here"};
    }
  }

  // Where `key` was set before: a statement of the same table, an equal header, or earlier in the
  // same statement (an inline table).
  [[nodiscard]] std::optional<std::size_t> earlier(const std::string& key, std::size_t statement,
                                                   std::size_t mine) const {
    const Statement& in = statements_[statement];
    const std::string& text = source_->bytes();
    const std::size_t from = in.header ? 0 : block_of(statement);
    for (std::size_t i = from; i < statement; ++i) {
      const Statement& other = statements_[i];
      if (other.header == in.header && !other.key.empty() &&
          (in.header ? other.key.find(key) != std::string::npos : other.key == key)) {
        return text.find(key, other.start);
      }
    }
    for (std::size_t at = text.find(key, in.start); at != std::string::npos && at < mine;
         at = text.find(key, at + 1)) {
      if (at > 0 && !is_key_char(text[at - 1]) && !is_key_char(text[at + key.size()])) return at;
    }
    return std::nullopt;
  }

  void note_left_out() {
    for (const auto& [first, last, error] : left_out_) {
      const Place from = source_->place(statements_[first].start);
      std::size_t end = statements_[last - 1].end;
      while (end > statements_[first].start &&
             std::isspace(static_cast<unsigned char>(source_->bytes()[end - 1])) != 0)
        --end;
      const Place to = source_->place(end);
      Diagnostic d;
      d.severity = Severity::note;
      d.rule = "syntax";
      // At the error, so that it is read after it.
      d.where = error >= statements_[first].start && error <= end ? source_->place(error) : from;
      d.message = from.line == to.line
                      ? fmt::format("line {} was left out of what follows", from.line)
                      : fmt::format("lines {} to {} were left out of what follows", from.line, to.line);
      d.remedy = "there may be more to say once this is read";
      document_.diagnostics.push_back(std::move(d));
    }
  }

  void give_up() {
    Diagnostic d;
    d.severity = Severity::note;
    d.rule = "syntax";
    d.where = Place::whole_file(source_->name());
    d.message = "the rest of this file was not read";
    d.remedy = "there may be more to say once its syntax is right";
    document_.diagnostics.push_back(std::move(d));
    document_.root = Node{};
    document_.root.at = {source_, 0, 0};
  }

  const std::shared_ptr<const Source>& source_;
  std::string text_;
  std::vector<Statement> statements_;
  std::map<std::size_t, int> seen_;  // errors by block
  std::vector<LeftOut> left_out_;
  Document document_;
};

}  // namespace

Document read_document(const std::shared_ptr<const Source>& source) {
  if (source->bytes().find_first_not_of("\xEF\xBB\xBF \t\r\n") != std::string::npos) {
    return Mender(source).run();
  }
  Document document;
  document.broken = true;
  document.root.at = {source, 0, 0};
  Diagnostic d;
  d.rule = "unreadable-file";
  d.where = Place::whole_file(source->name());
  d.message = "the file is empty";
  d.remedy = "is this the right file, and was it saved?";
  document.diagnostics.push_back(std::move(d));
  return document;
}

}  // namespace vacuary::plan
