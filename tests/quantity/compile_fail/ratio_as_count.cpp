// A ratio is not a number of things.
#include "case.hpp"
void use() {
#ifdef BAD
  take<Count>(ratio);
#else
  take<Ratio>(ratio);
#endif
}
