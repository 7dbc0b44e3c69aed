// A number of things is not a ratio.
#include "case.hpp"
void use() {
#ifdef BAD
  take<Ratio>(count);
#else
  take<Count>(count);
#endif
}
