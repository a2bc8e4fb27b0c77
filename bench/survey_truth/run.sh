#!/usr/bin/env bash
# The adjustment against known truth; see survey_truth.c. Takes the folder of the build.
exec "$1/bench/survey_truth"
