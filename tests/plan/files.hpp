// Loading one plan file of the corpus in the company of the sample plant's other files.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

#include "plan/channel.hpp"
#include "plan/measured.hpp"
#include "plan/plan.hpp"

namespace plan_files {

// The bytes of a file of the repository; empty when it cannot be read.
std::string bytes_of(const std::filesystem::path& path);
std::filesystem::path sample_folder();

// `text` as the file `name`; what it is the first word of its name says: recipe-, chamber-, optic-,
// channels- or measured-. The files it needs beside it are the sample plant's.
vacuary::Diagnostics load(const std::string& name, const std::string& text);

// The sample recipe's plan.
vacuary::plan::Plan sample_plan();

}  // namespace plan_files
