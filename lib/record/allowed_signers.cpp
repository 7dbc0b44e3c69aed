// The allowed-signers file as `ssh-keygen -Y verify` reads it.
#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <ctime>

#include "record/lines.hpp"
#include "record/signature.hpp"
#include "record/wire.hpp"

namespace vacuary::record {
namespace {

bool is_blank(char ch) { return ch == ' ' || ch == '\t'; }

// The next word, as a shell would read double quotes: blanks inside them do not end it.
std::string_view take_word(std::string_view& rest) {
  while (!rest.empty() && is_blank(rest.front())) rest.remove_prefix(1);
  bool quoted = false;
  std::size_t end = 0;
  for (; end < rest.size() && (quoted || !is_blank(rest[end])); ++end) {
    if (rest[end] == '"' && (end == 0 || rest[end - 1] != '\\')) quoted = !quoted;
  }
  const std::string_view word = rest.substr(0, end);
  rest.remove_prefix(end);
  return quoted ? std::string_view{} : word;
}

std::string_view unquoted(std::string_view text) {
  if (text.size() < 2 || text.front() != '"' || text.back() != '"') return text;
  return text.substr(1, text.size() - 2);
}

// YYYYMMDD, YYYYMMDDHHMM or YYYYMMDDHHMMSS, with Z for UTC, else local time (ssh-keygen(1)).
bool parse_validity(std::string_view text, Instant& instant, bool& local) {
  local = text.empty() || text.back() != 'Z';
  if (!local) text.remove_suffix(1);
  const bool digits =
      std::all_of(text.begin(), text.end(), [](unsigned char ch) { return std::isdigit(ch) != 0; });
  if (!digits || (text.size() != 8 && text.size() != 12 && text.size() != 14)) return false;
  const std::string padded = std::string(text) + std::string(14 - text.size(), '0');
  const std::string utc =
      fmt::format("{}-{}-{}T{}:{}:{}Z", padded.substr(0, 4), padded.substr(4, 2), padded.substr(6, 2),
                  padded.substr(8, 2), padded.substr(10, 2), padded.substr(12, 2));
  if (!from_rfc3339(utc, instant)) return false;
  if (!local) return true;
  std::tm parts{};
  const std::time_t as_utc = static_cast<std::time_t>(instant.ns / 1'000'000'000);
  if (::gmtime_r(&as_utc, &parts) == nullptr) return false;
  parts.tm_isdst = -1;
  const std::int64_t seconds = std::mktime(&parts);
  return !__builtin_mul_overflow(seconds, std::int64_t{1'000'000'000}, &instant.ns);
}

class LineReader {
 public:
  LineReader(const std::string& file, const Line& line, Diagnostics& said)
      : file_(file), line_(line), said_(said) {}

  bool read(AllowedSigner& signer) {
    std::string_view rest = line_.text;
    signer.line = line_.number;
    signer.principals = unquoted(take_word(rest));
    std::string_view word = take_word(rest);
    std::optional<std::string> blob = key_after(word, rest, signer);
    if (!blob) {  // then the word is the options, and type and key follow
      if (!read_options(word, signer)) return false;
      word = take_word(rest);
      blob = key_after(word, rest, signer);
    }
    if (signer.principals.empty() || !blob) {
      return fail("this line is not principals, options, a key type and a key");
    }
    const std::size_t start = std::min(rest.find_first_not_of(" \t"), rest.size());
    signer.comment = rest.substr(start);
    return true;
  }

 private:
  bool fail(std::string message) {
    said_.push_back(line_fault(file_, line_, "allowed-signers", std::move(message),
                               "see ssh-keygen(1), ALLOWED SIGNERS"));
    return false;
  }

  static std::optional<std::string> key_after(std::string_view type, std::string_view& rest,
                                              AllowedSigner& signer) {
    std::string_view after = rest;
    std::optional<std::string> blob = from_base64(take_word(after));
    if (!blob || type.empty() || Wire(*blob).text() != type) return std::nullopt;
    signer.key = {std::string(type), *blob};
    rest = after;
    return blob;
  }

  bool read_options(std::string_view options, AllowedSigner& signer) {
    while (!options.empty()) {
      std::size_t end = 0;
      for (bool quoted = false; end < options.size() && (quoted || options[end] != ','); ++end) {
        if (options[end] == '"') quoted = !quoted;
      }
      if (!read_option(options.substr(0, end), signer)) return false;
      options.remove_prefix(std::min(end + 1, options.size()));
    }
    return !signer.valid_after || !signer.valid_before || *signer.valid_after <= *signer.valid_before ||
           fail("the key is valid only after the time when it stops being valid");
  }

  bool read_option(std::string_view option, AllowedSigner& signer) {
    const std::size_t equals = std::min(option.find('='), option.size());
    std::string key(option.substr(0, equals));
    std::transform(key.begin(), key.end(), key.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    const std::string_view value = unquoted(option.substr(std::min(equals + 1, option.size())));
    if (key == "cert-authority") {
      signer.cert_authority = true;
      return true;
    }
    if (key == "namespaces") {
      signer.namespaces = std::string(value);
      return true;
    }
    if (key != "valid-after" && key != "valid-before") {
      return fail(fmt::format("'{}' is neither a key type nor an option of this file", option.substr(0, 60)));
    }
    Instant instant;
    bool local = false;
    if (!parse_validity(value, instant, local))
      return fail(fmt::format("'{}' is no time of the form YYYYMMDD[HHMM[SS]][Z]", value.substr(0, 60)));
    (key == "valid-after" ? signer.valid_after : signer.valid_before) = instant;
    if (local) {
      said_.push_back(
          line_fault(file_, line_, "allowed-signers",
                     "a validity time without Z means this computer's time zone, and another time elsewhere",
                     "write it in UTC with Z at the end"));
      said_.back().severity = Severity::warning;
    }
    return true;
  }

  const std::string& file_;
  const Line& line_;
  Diagnostics& said_;
};

// * for any run of characters, ? for one.
bool match_pattern(std::string_view text, std::string_view pattern) {
  std::size_t t = 0, p = 0, star = std::string_view::npos, mark = 0;
  while (t < text.size()) {
    if (p < pattern.size() && pattern[p] == '*') {
      star = p++;
      mark = t;
    } else if (p < pattern.size() && (pattern[p] == '?' || pattern[p] == text[t])) {
      ++p, ++t;
    } else if (star != std::string_view::npos) {
      p = star + 1;
      t = ++mark;
    } else {
      return false;
    }
  }
  while (p < pattern.size() && pattern[p] == '*') ++p;
  return p == pattern.size();
}

}  // namespace

int match_patterns(std::string_view text, std::string_view patterns) {
  int found = 0;
  for (std::size_t start = 0; start <= patterns.size();) {
    const std::size_t end = std::min(patterns.find(',', start), patterns.size());
    std::string_view pattern = patterns.substr(start, end - start);
    const bool negated = !pattern.empty() && pattern.front() == '!';
    if (negated) pattern.remove_prefix(1);
    if (match_pattern(text, pattern)) {
      if (negated) return -1;
      found = 1;
    }
    start = end + 1;
  }
  return found;
}

Result<std::vector<AllowedSigner>> parse_allowed_signers(const std::string& file, std::string_view bytes) {
  Diagnostics said;
  std::vector<AllowedSigner> signers;
  constexpr std::size_t most_complaints = 100;
  LineScanner scanner(bytes);
  for (Line line; said.size() < most_complaints && scanner.next(line);) {
    const std::size_t start = line.text.find_first_not_of(" \t");
    if (start == std::string_view::npos || line.text[start] == '#') continue;
    AllowedSigner signer;
    if (LineReader(file, line, said).read(signer)) signers.push_back(std::move(signer));
  }
  return {std::move(signers), std::move(said)};
}

Permission permission(const std::vector<AllowedSigner>& signers, const PublicKey& key,
                      const std::string& principal, Instant when) {
  Permission nearest;
  // What was missed last in this order of checks was the nearest miss.
  const auto missed = [&](Allowed how, const AllowedSigner& signer,
                          std::optional<Instant> bound = std::nullopt) {
    if (how >= nearest.allowed) nearest = {how, signer.comment, bound};
  };
  nearest.allowed = Allowed::unknown_key;
  for (const AllowedSigner& s : signers) {
    if (s.key != key || s.cert_authority) continue;
    if (match_patterns(principal, s.principals) != 1) {
      missed(Allowed::other_role, s);
    } else if (s.namespaces && match_patterns(signature_namespace, *s.namespaces) != 1) {
      missed(Allowed::other_namespace, s);
    } else if (s.valid_after && when < *s.valid_after) {
      missed(Allowed::not_yet_valid, s, s.valid_after);
    } else if (s.valid_before && when > *s.valid_before) {
      missed(Allowed::expired, s, s.valid_before);
    } else {
      return {Allowed::yes, s.comment, std::nullopt};
    }
  }
  return nearest;
}

}  // namespace vacuary::record
