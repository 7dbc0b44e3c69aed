#include "record/process.hpp"

#include <fcntl.h>
#include <spawn.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <thread>

extern char** environ;

namespace vacuary::record {
namespace {

class Descriptor {
 public:
  explicit Descriptor(int fd = -1) : fd_(fd) {}
  Descriptor(Descriptor&& other) noexcept : fd_(other.fd_) { other.fd_ = -1; }
  Descriptor& operator=(Descriptor&&) = delete;
  ~Descriptor() { close(); }
  [[nodiscard]] int get() const { return fd_; }
  void close() {
    if (fd_ >= 0) ::close(fd_);
    fd_ = -1;
  }

 private:
  int fd_;
};

// A file in memory that holds `bytes`, read from its start.
Descriptor memory_file(std::string_view bytes) {
  Descriptor file(::memfd_create("vacuary", MFD_CLOEXEC));
  while (!bytes.empty()) {
    const ssize_t n = ::write(file.get(), bytes.data(), bytes.size());
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) return Descriptor();
    bytes.remove_prefix(static_cast<std::size_t>(n));
  }
  ::lseek(file.get(), 0, SEEK_SET);
  return file;
}

void drain(int fd, std::string& into) {
  constexpr std::size_t most = std::size_t{1} << 20U;
  std::array<char, 4096> buffer{};
  while (true) {
    const ssize_t n = ::read(fd, buffer.data(), buffer.size());
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) return;
    if (into.size() < most) into.append(buffer.data(), static_cast<std::size_t>(n));
  }
}

struct Pipe {
  Pipe() {
    std::array<int, 2> ends{-1, -1};
    if (::pipe2(ends.data(), O_CLOEXEC) != 0) ends = {-1, -1};
    read_end = ends[0];
    write_end = ends[1];
  }
  Pipe(const Pipe&) = delete;
  Pipe& operator=(const Pipe&) = delete;
  ~Pipe() {
    if (read_end >= 0) ::close(read_end);
    close_write();
  }
  void close_write() {
    if (write_end >= 0) ::close(write_end);
    write_end = -1;
  }
  int read_end, write_end;
};

constexpr int first_passed = 100;  // far from what the program opens itself

}  // namespace

ProcessOutcome run_program(std::vector<std::string> arguments, const std::vector<std::string_view>& inputs) {
  ProcessOutcome outcome;
  Pipe output, complaint;
  posix_spawn_file_actions_t actions;
  ::posix_spawn_file_actions_init(&actions);
  std::vector<Descriptor> files;
  for (std::size_t i = 0; i < inputs.size(); ++i) {
    files.push_back(memory_file(inputs[i]));
    const int as = i == 0 ? 0 : first_passed + static_cast<int>(i);
    ::posix_spawn_file_actions_adddup2(&actions, files.back().get(), as);
    const std::string placeholder = "{" + std::to_string(i) + "}";
    for (std::string& argument : arguments) {
      if (argument == placeholder) argument = "/dev/fd/" + std::to_string(as);
    }
  }
  ::posix_spawn_file_actions_adddup2(&actions, output.write_end, 1);
  ::posix_spawn_file_actions_adddup2(&actions, complaint.write_end, 2);
  std::vector<char*> argv;
  for (std::string& argument : arguments) argv.push_back(argument.data());
  argv.push_back(nullptr);
  pid_t child = -1;
  outcome.started = ::posix_spawnp(&child, argv.front(), &actions, nullptr, argv.data(), environ) == 0;
  ::posix_spawn_file_actions_destroy(&actions);
  output.close_write();
  complaint.close_write();
  if (!outcome.started) return outcome;
  std::thread other([&] { drain(complaint.read_end, outcome.complaint); });
  drain(output.read_end, outcome.output);
  other.join();
  int status = 0;
  while (::waitpid(child, &status, 0) < 0 && errno == EINTR) {
  }
  if (WIFEXITED(status)) outcome.exit = WEXITSTATUS(status);
  return outcome;
}

}  // namespace vacuary::record
