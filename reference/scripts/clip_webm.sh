#!/bin/sh
# The first 15 s of clip-a.mp4 as a WebM file written as a browser's recorder writes it: VP8, no length and no index in the file.
# Usage: sh reference/scripts/clip_webm.sh (needs ffmpeg with libvpx; made with ffmpeg 5.1.9). Its truth is that of clip-a.
set -eu
cd "$(dirname "$0")/../clips"
ffmpeg -v error -y -i clip-a.mp4 -t 15 -an -c:v libvpx -b:v 350k -vf scale=640:-2 -f webm - >clip-a-start.webm
