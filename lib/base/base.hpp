// Front door of `base`: what every other room stands on and that knows nothing of coating.
//
//   diagnostic.hpp  what vacuary says about a file, and the one printer
//   source.hpp      text that knows its lines and columns
//   result.hpp      a value and what there is to say about it
//   files.hpp       whole files in and out, failures as diagnostics
//   time.hpp        instants
#pragma once

#include "base/diagnostic.hpp"  // IWYU pragma: export
#include "base/files.hpp"       // IWYU pragma: export
#include "base/result.hpp"      // IWYU pragma: export
#include "base/source.hpp"      // IWYU pragma: export
#include "base/time.hpp"        // IWYU pragma: export
