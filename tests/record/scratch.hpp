// A folder of a test's own, removed afterwards, and small verbs on files and programs.
#pragma once

#include <stdlib.h>
#include <sys/wait.h>

#include <array>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>

namespace scratch {

class Folder {
 public:
  Folder() {
    std::string pattern = (std::filesystem::temp_directory_path() / "vacuary-record-XXXXXX").string();
    path_ = ::mkdtemp(pattern.data());
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  ~Folder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  [[nodiscard]] std::string path(const std::string& name = "") const {
    return name.empty() ? path_ : path_ + "/" + name;
  }

 private:
  std::string path_;
};

inline void put(const std::string& path, const std::string& bytes) {
  std::filesystem::create_directories(std::filesystem::path(path).parent_path());
  std::ofstream(path, std::ios::binary) << bytes;
}

inline std::string get(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

struct Ran {
  int exit = -1;
  std::string output;  // standard output and error
};

inline Ran run(const std::string& command) {
  Ran ran;
  FILE* pipe = ::popen(("{ " + command + "\n} 2>&1").c_str(), "r");
  std::array<char, 4096> buffer{};
  while (const std::size_t n = std::fread(buffer.data(), 1, buffer.size(), pipe))
    ran.output.append(buffer.data(), n);
  const int status = ::pclose(pipe);
  ran.exit = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  return ran;
}

}  // namespace scratch
