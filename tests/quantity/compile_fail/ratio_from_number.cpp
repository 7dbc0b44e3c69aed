// A bare number is no ratio: Ratio::of or Ratio::percent says which.
#include "case.hpp"
void use() {
#ifdef BAD
  take<Ratio>(3.0);
#else
  take<Ratio>(Ratio::percent(3));
#endif
}
