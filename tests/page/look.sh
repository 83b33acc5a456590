#!/usr/bin/env bash
# Makes a bench with a few tests, jobs and a photo, shows its page, looks at every sheet in a browser, and does
# with it what a person does: with and without scripts, on this computer and through the network.
#
#   tests/page/look.sh PROGRAM [FOLDER FOR PICTURES]
set -euo pipefail
program=$(realpath "$1")
here=$(cd "$(dirname "$0")" && pwd)
pictures=${2:-$(mktemp -d)/pictures}
bench=$(mktemp -d)
export TZ=UTC
cd "$bench"

"$program" job --example > job.toml
"$program" job job.toml > job.txt
# Their outcome is their exit status.
for scenario in piston-seal-bypass tight-rebuild good-valve-looks-bad; do
  "$program" rehearse "$scenario" --json > "$scenario.txt" 2>&1 || true
done
sed -i 's/^# number = 12 .*/number = 1/; s/^# went_out/went_out/' job.toml
"$program" job job.toml > job.txt
"$program" rehearse piston-seal-bypass --json --seed 9 > again.txt 2>&1 || true
printf '[job]\nunit = "TV-0400"\ndescription = "spreader tipping ram"\ncame_in = 2026-11-25\nsymptom = "hopper comes down by itself"\nby = "fitter 1"\n' > open.toml
"$program" job open.toml > open.txt
picture=$(find "$here/../../sample-runs/pictures" -name '*.png' | sort | head -1)
"$program" attach TV-0312 "$picture" --job 1 --about "score below the gland" --by "fitter 2" > attach.txt
"$program" rehearse proof-sound --json > proof.txt 2>&1 || true
mkdir stillrod-data/setups
touch board
printf '[sensors.p_cap]\nchannel = 0\n' > stillrod-data/setups/bench-1.toml
mapfile -t papers < <(find stillrod-data/papers -name '*-[0-9][0-9][0-9][0-9].pdf' -exec basename {} .pdf \; | sort)

proof=${papers[-1]}

# shown OPTION…: shows the page; its addresses and code are in serve.txt then.
shown() {
  "$program" serve --port 0 --shop "$here/../../src/rehearsal/year/tarn-valley-year.toml" --backup copy --adapter "$bench/board" "$@" > "$bench/serve.txt" &
  serving=$!
  for _ in $(seq 100); do
    grep -q 'Ctrl-C' "$bench/serve.txt" && return
    sleep 0.1
  done
  echo "the page was not shown" >&2
  exit 1
}
address() {
  sed -n 's/^Page  *\(http:.*\)\/$/\1/p' "$bench/serve.txt" | "$1" -1
}
trap 'kill $(jobs -p) 2>/dev/null || true; rm -rf "$bench"' EXIT
shown
address=$(address head)

cd "$here"
node look.mjs "$address" "$pictures" start=/ units=/units found='/units?words=plough&from=2026-01-01' wrong-day='/units?from=x' \
  story='/unit?tag=TV-0312' job='/job?number=1' new-job='/job/new?tag=TV-0312' papers=/papers paper="/paper?number=${papers[0]}" \
  recording="/recording?number=${papers[0]}" recording-part="/recording?number=${papers[0]}&from=100&until=101&channel=p_cap&channel=x" \
  recording-values="/recording?number=${papers[1]}&at=1:30" recording-wrong="/recording?number=${papers[1]}&from=9&until=3" \
  recording-steps="/recording?number=${proof}" \
  sensors=/sensors tag=/tag zeros=/sensors/zero calibrate=/sensors/calibrate shop=/shop moving=/moving nowhere=/nowhere
node walk.mjs "$address" TV-0500 "${papers[1]}" "$picture" with
node walk.mjs "$address" TV-0501 "${papers[2]}" "$picture" without
kill -INT "$serving"
wait "$serving"

cd "$bench"
shown --lan
code=$(sed -n 's/^Code  *\([0-9 ]\{9\}\).*/\1/p' serve.txt)
cd "$here"
# Where there is no network, that is this computer again.
node walk.mjs "$(address tail)" TV-0502 "${papers[3]}" "$picture" without "$code"
kill -INT "$serving"
wait "$serving"

# Tests from the page, in two benches at once: most of their time is waiting.
at_bench() {
  local name=$1 own
  shift
  own=$(mktemp -d)
  "$program" serve --port 0 --data "$own" > "$own/serve.txt" &
  local serving=$!
  for _ in $(seq 100); do
    grep -q 'Ctrl-C' "$own/serve.txt" && break
    sleep 0.1
  done
  local status=0
  node bench.mjs "$(sed -n 's/^Page  *\(http:.*\)\/$/\1/p' "$own/serve.txt" | head -1)" "$pictures/$name" "$@" || status=$?
  kill -INT "$serving"
  wait "$serving" || status=$?
  rm -rf "$own"
  return "$status"
}
at_bench one wholeProof &
one=$!
at_bench other failingSeal pulledAndBack stopped hostile
wait "$one"
