// Ratios and counts have no sum.
#include "case.hpp"
void use() {
#ifdef BAD
  take(ratio + count);
#else
  take(ratio.value() + count.value());
#endif
}
