// A plant for tests: a run folder, three roles, a key for each, and their allowed-signers file.
#pragma once

#include <cstdlib>
#include <string>

#include "record/signing.hpp"
#include "scratch.hpp"

namespace plant {

using namespace vacuary;
using namespace vacuary::record;

template <class T>
std::string rules(const Result<T>& result) {
  std::string out;
  for (const Diagnostic& d : result.diagnostics()) out += (out.empty() ? "" : " ") + d.rule;
  return out;
}

inline Instant at(const char* text) {
  Instant instant;
  if (!from_rfc3339(text, instant)) std::abort();
  return instant;
}

class Plant {
 public:
  explicit Plant(const std::string& rows = "0,1\n") {
    std::string signers;
    for (const char* role : {"process engineer", "operator", "quality"}) {
      const std::string made =
          "ssh-keygen -q -t ed25519 -N '' -C 'key of " + std::string(role) + "' -f " + key(role);
      if (scratch::run(made).exit != 0) std::abort();
      signers +=
          role_id(role) +
          " namespaces=\"run-statement@vacuary\",valid-after=\"20310101Z\",valid-before=\"20310401Z\" " +
          scratch::get(key(role) + ".pub");
    }
    scratch::put(this->signers(), signers);
    if (!write_run(run(), folder(rows), false).ok()) std::abort();
  }

  static RunFolder folder(const std::string& rows, const std::string& name = "TR-2031-014") {
    RunFolder run;
    run.payload = {{"data/plan/recipe.toml", Bytes{"name = \"Primary, aluminium\"\n"}, ""},
                   {"data/log/log.csv", Bytes{"time,p\n" + rows}, "Log of the run.csv"},
                   {"data/report/report.txt", Bytes{"within limits\n"}, ""}};
    run.info = {{"External-Identifier", name},
                {"Bagging-Date", "2031-03-04"},
                {"Signing-Role", "process engineer"},
                {"Signing-Role", "operator"},
                {"Signing-Role", "quality"}};
    return run;
  }

  [[nodiscard]] std::string run() const { return folder_.path("run"); }
  [[nodiscard]] std::string path(const std::string& name) const { return folder_.path(name); }
  [[nodiscard]] std::string signers() const { return folder_.path("allowed_signers"); }
  [[nodiscard]] std::string key(const std::string& role) const {
    return folder_.path("key-" + role_id(role));
  }
  [[nodiscard]] Trust trust() const { return read_trust(signers(), "").value(); }

  [[nodiscard]] Result<Signed> sign(const std::string& role, const std::string& with = "",
                                    Disposition disposition = Disposition::accept,
                                    const std::string& reason = "film within limits") const {
    return sign_in(run(), role, with, disposition, reason);
  }
  [[nodiscard]] Result<Signed> sign_in(const std::string& folder, const std::string& role,
                                       const std::string& with = "",
                                       Disposition disposition = Disposition::accept,
                                       const std::string& reason = "film within limits") const {
    return sign_run({folder, role, key(with.empty() ? role : with), disposition, reason, "I. Novak",
                     at("2031-03-04T09:00:00Z")},
                    trust());
  }
  [[nodiscard]] bool sign_all(const std::string& folder = "") const {
    for (const char* role : {"process engineer", "operator", "quality"}) {
      if (!sign_in(folder.empty() ? run() : folder, role).ok()) return false;
    }
    return true;
  }

 private:
  scratch::Folder folder_;
};

}  // namespace plant
