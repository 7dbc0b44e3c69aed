#!/bin/bash
# awk's part of the benchmark: per-step minimum, maximum and mean of all columns.
#   awk.sh LOG
# The exact query:
start=$EPOCHREALTIME
LC_ALL=C awk -F, 'NR == 1 { n = NF - 1; next }
{ s = $NF; if (!(s in rows)) for (c = 2; c <= n; ++c) low[s, c] = high[s, c] = $c + 0
  ++rows[s]
  for (c = 2; c <= n; ++c) { x = $c + 0; sum[s, c] += x; if (x < low[s, c]) low[s, c] = x; if (x > high[s, c]) high[s, c] = x } }
END { for (s in rows) for (c = 2; c <= n; ++c) print s, c, low[s, c], high[s, c], sum[s, c] / rows[s] }' "$1" > /dev/null
echo "seconds $(echo "$EPOCHREALTIME - $start" | bc)"
