// Front door of `quantity`: text with a unit to a typed quantity and back.
//
//   types.hpp  the Boost.Units types everything else speaks
//   text.hpp   parsing with exact error positions and suggestions, printing that round-trips
#pragma once

#include "quantity/text.hpp"   // IWYU pragma: export
#include "quantity/types.hpp"  // IWYU pragma: export
