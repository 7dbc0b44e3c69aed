// A ratio does not shrink to an int.
#include "case.hpp"
void use() {
#ifdef BAD
  const int share = ratio;
  take(share);
#else
  const double share = ratio.value();
  take(share);
#endif
}
